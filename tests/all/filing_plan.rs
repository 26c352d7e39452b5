//! The put-away plan: nothing lost, none twice, order, capacity and each box's rule kept, and nothing left to do when it
//! is done.

use boxward::collection::{CopyId, IssueNumber, SizeClass, Title, TitleId};
use boxward::filing::{
    Book, BoxId, BoxKind, Divider, FilingRule, Place, Plan, PlanOptions, Purpose, ShelfBox, ShelfTitle, Wall, Weights,
    plan,
};
use proptest::prelude::*;

fn title(id: usize, name: &str, publisher: &str, family: Option<&str>) -> ShelfTitle {
    let title = Title {
        id: TitleId::new(id as i64 + 1),
        publisher: Some(publisher.to_owned()),
        name: name.to_owned(),
        volume: String::new(),
        year: Some(2020),
        layout: None,
        issue_base: 0,
    };
    ShelfTitle { title: title.into(), family: family.map(str::to_owned) }
}

fn shelf(n: usize, inner_mm: u32, purpose: Purpose) -> ShelfBox {
    ShelfBox {
        id: BoxId::new(n as i64 + 1),
        label: format!("Box {}", n + 1),
        kind: BoxKind::Own,
        inner_mm,
        magazines: false,
        purpose,
        place: Place { row: 1, column: n as u32 + 1, turn: 0 },
        note: String::new(),
        planned: false,
    }
}

fn book(copy: usize, title: u32, issue: u32, um: u32, at: Option<u32>) -> Book {
    let key = FilingRule::default().copy_key(IssueNumber::new(&issue.to_string()).sort_key(), "1", 1);
    Book {
        copy: CopyId::new(copy as i64 + 1),
        title,
        key,
        um,
        mg: 0,
        size: SizeClass::Current,
        unread: false,
        at,
        expected: false,
    }
}

proptest! {
    #[test]
    fn a_wall_is_sorted_by_its_copies_keys(books in prop::collection::vec((0_u32..6, 0_u32..4), 0..80)) {
        let names = ["Moth Parliament", "Ash Harbour", "Brine", "The Almanac", "Zinc", "Copper Lane"];
        let titles = names.iter().enumerate().map(|(id, name)| title(id, name, "Lantern Row", None)).collect();
        let books = books.iter().enumerate().map(|(copy, &(title, issue))| book(copy, title, issue, 1, None)).collect();
        let mut wall = Wall { titles, boxes: Vec::new(), books };
        let rule = FilingRule::default();
        let mut by_keys = wall.books.clone();
        by_keys.sort_by_key(|book| {
            (rule.title_key(&wall.titles[book.title as usize].title, None), book.key.clone(), book.copy)
        });
        wall.sort(&rule);
        prop_assert_eq!(wall.books, by_keys);
    }
}

/// What must hold for every plan.
fn check(wall: &Wall, plan: &Plan, options: &PlanOptions) {
    let mut order = plan.order.clone();
    order.sort_unstable();
    assert!(order.iter().copied().eq(0..wall.books.len() as u32), "something is lost or twice");
    let mut boxes: Vec<u32> = plan.boxes.iter().filter_map(|planned| planned.at).collect();
    boxes.sort_unstable();
    assert!(boxes.iter().copied().eq(0..wall.boxes.len() as u32), "a box is lost or twice");
    let place = |at: u32| wall.boxes[at as usize].place;
    let mut seen = 0;
    for (n, planned) in plan.boxes.iter().enumerate() {
        let content = &plan.order[planned.from..planned.to];
        seen += content.len();
        assert!(content.is_sorted(), "the order is broken");
        assert!(content.iter().all(|&book| plan.goes_to[book as usize] == n as u32));
        let inner = u64::from(planned.inner_mm) * 1000;
        let limit = options.limit_um(planned.inner_mm);
        assert!(
            planned.um_after <= inner
                && (planned.um_after <= limit || planned.um_before > limit - u64::from(options.divider_um)),
            "{planned:?}"
        );
        for &book in content {
            let (book, known) =
                (&wall.books[book as usize], |purpose: &Purpose| wall.boxes.iter().any(|b| b.purpose == *purpose));
            let own = &wall.titles[book.title as usize].title;
            match &planned.purpose {
                Purpose::Title(id) => assert_eq!(*id, own.id),
                Purpose::Publisher(name) => assert_eq!(Some(name), own.publisher.as_ref()),
                Purpose::Rest => assert!(!known(&Purpose::Title(own.id))),
                other => panic!("nothing goes to {other:?}"),
            }
        }
    }
    assert_eq!(seen, wall.books.len());
    // Boxes that were there keep their place on the walk.
    let walked: Vec<_> = plan.boxes.iter().filter(|p| p.purpose != Purpose::Spare).filter_map(|p| p.at).collect();
    let kept: Vec<_> = walked.iter().copied().filter(|&at| wall.boxes[at as usize].purpose != Purpose::Spare).collect();
    assert!(kept.is_sorted_by_key(|&at| place(at)));
}

/// The wall after the plan is done.
fn done(wall: &Wall, plan: &Plan) -> Wall {
    let mut after = Wall { boxes: Vec::new(), ..wall.clone() };
    for (n, planned) in plan.boxes.iter().enumerate() {
        let mut shelf = planned.at.map_or_else(
            || shelf(1000 + n, planned.inner_mm, planned.purpose.clone()),
            |at| wall.boxes[at as usize].clone(),
        );
        (shelf.purpose, shelf.place.column) = (planned.purpose.clone(), n as u32);
        after.boxes.push(shelf);
        plan.order[planned.from..planned.to].iter().for_each(|&book| after.books[book as usize].at = Some(n as u32));
    }
    after
}

prop_compose! {
    fn walls()(
        books in prop::collection::vec((0..6_u32, 1..40_u32, 2000..9000_u32, prop::option::weighted(0.7, 0..5_u32)), 0..120),
        boxes in prop::collection::vec((60..200_u32, 0..5_u8), 0..5),
    ) -> Wall {
        let names = ["Ash Harbour", "Brine", "Copper Wren", "Dial", "Eel Court", "Fen Light"];
        let titles = names.iter().enumerate().map(|(n, name)| title(n, name, ["Lantern Row", "Brass Heron"][n % 2], None)).collect();
        let boxes: Vec<_> = boxes.iter().enumerate().map(|(n, &(mm, purpose))| shelf(n, mm, match purpose {
            0 => Purpose::Title(TitleId::new(2)),
            1 => Purpose::Publisher("Lantern Row".to_owned()),
            2 => Purpose::Spare,
            _ => Purpose::Rest,
        })).collect();
        let spare = |at: u32| boxes[at as usize].purpose == Purpose::Spare;
        let books = books.iter().enumerate().map(|(n, &(title, issue, um, at))| {
            book(n, title, issue, um, at.filter(|&at| (at as usize) < boxes.len() && !spare(at)))
        }).collect();
        let mut wall = Wall { titles, boxes, books };
        wall.sort(&FilingRule::default());
        wall
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn a_plan_keeps_everything_and_leaves_nothing_to_do(wall in walls(), anew: bool, new_box in 1..60_u32, split in 0..10_u32) {
        let options = PlanOptions { new_mm: 150, weights: Weights { new_box, split }, anew, ..PlanOptions::default() };
        let first = plan(&wall, &options).unwrap();
        check(&wall, &first, &options);
        let after = done(&wall, &first);
        let second = plan(&after, &options).unwrap();
        if !anew {
            prop_assert_eq!((second.cost.to_file, second.cost.moved, second.cost.new_boxes), (0, 0, 0));
            prop_assert!((0..second.boxes.len()).all(|at| !second.is_touched(&after, at)));
        }
        prop_assert_eq!(first.cost.to_file as usize, wall.books.iter().filter(|book| book.at.is_none()).count());
    }
}

#[test]
fn new_copies_stand_between_their_neighbours_behind_their_divider() {
    let titles = vec![title(0, "Ash Harbour", "Lantern Row", None), title(1, "Brine", "Lantern Row", None)];
    let books = vec![
        book(0, 0, 1, 3000, Some(0)),
        book(1, 0, 4, 3000, Some(0)),
        book(2, 0, 2, 3000, None),
        book(3, 0, 3, 3000, None),
        book(4, 1, 7, 3000, None),
    ];
    let mut wall = Wall { titles, boxes: vec![shelf(0, 375, Purpose::Rest)], books };
    wall.sort(&FilingRule::default());
    let options = PlanOptions::default();
    let plan = plan(&wall, &options).unwrap();
    let work = plan.work(&wall, 0);
    let copies = |books: &[u32]| -> Vec<i64> { books.iter().map(|&b| wall.books[b as usize].copy.number()).collect() };
    assert_eq!(work.takes, []);
    let [first, second] = &work.runs[..] else { panic!("{work:?}") };
    assert_eq!((copies(&first.puts), first.divider, first.new_divider), (vec![3, 4], Divider::Title(0), false));
    assert_eq!(copies(&[first.after.unwrap(), first.before.unwrap()]), [1, 2]);
    assert_eq!((copies(&second.puts), second.divider, second.new_divider), (vec![5], Divider::Title(1), true));
    assert_eq!((second.after.map(|b| copies(&[b])), second.before), (Some(vec![2]), None));
    // Five copies of 3 mm and two dividers of 0.8 mm.
    assert_eq!((plan.boxes[0].um_before, plan.boxes[0].um_after), (6800, 16_600));
}

#[test]
fn an_overflow_goes_to_the_neighbour_a_spare_box_or_a_new_one() {
    let titles = || vec![title(0, "Ash Harbour", "Lantern Row", None), title(1, "Brine", "Lantern Row", None)];
    let full = |more: &[Book]| -> Vec<Book> {
        let own = (0..30).map(|n| book(n, u32::from(n >= 24), n as u32 + 1, 3000, Some(0)));
        own.chain(more.iter().cloned()).collect()
    };
    let new = [book(90, 0, 60, 3000, None)];
    let made = |boxes: Vec<ShelfBox>, books: Vec<Book>| {
        let mut wall = Wall { titles: titles(), boxes, books };
        wall.sort(&FilingRule::default());
        let options = PlanOptions { new_mm: 100, ..PlanOptions::default() };
        let plan = plan(&wall, &options).unwrap();
        check(&wall, &plan, &options);
        plan
    };
    // The neighbour takes the whole last title: its six copies are moved, and nothing is split.
    let shifted = made(vec![shelf(0, 100, Purpose::Rest), shelf(1, 100, Purpose::Rest)], full(&new));
    assert_eq!((shifted.cost.moved, shifted.cost.new_boxes, shifted.cost.splits), (6, 0, 0));
    let spare = made(vec![shelf(0, 100, Purpose::Rest), shelf(1, 100, Purpose::Spare)], full(&new));
    assert_eq!((spare.cost.moved, spare.cost.new_boxes, spare.boxes.len()), (6, 1, 2));
    assert_eq!(spare.boxes[1].purpose, Purpose::Rest);
    let added = made(vec![shelf(0, 100, Purpose::Rest)], full(&new));
    assert_eq!((added.cost.moved, added.cost.new_boxes, added.boxes.len()), (6, 1, 2));
    assert_eq!(added.boxes[1].at, None);
}

#[test]
fn short_series_share_their_familys_divider() {
    let of = |id, name: &str| title(id, name, "Lantern Row", Some("Harbour"));
    let titles = vec![of(0, "Ash Harbour"), of(1, "Brine Harbour"), of(2, "Long Harbour")];
    let mut books = vec![book(0, 0, 1, 3000, None), book(1, 1, 1, 3000, None)];
    books.extend((0..9).map(|n| book(n + 2, 2, n as u32 + 1, 3000, None)));
    let mut wall = Wall { titles, boxes: vec![shelf(0, 375, Purpose::Rest)], books };
    wall.sort(&"publisher, family, title, issue".parse().unwrap());
    let dividers = |families, short_series| {
        let options = PlanOptions { families, short_series, ..PlanOptions::default() };
        let mut dividers = plan(&wall, &options).unwrap().dividers;
        dividers.dedup();
        dividers
    };
    assert_eq!(dividers(true, 5), [Divider::Family(0), Divider::Title(2)]);
    assert_eq!(dividers(true, 1), [Divider::Title(0), Divider::Title(1), Divider::Title(2)]);
    assert_eq!(dividers(false, 5).len(), 3);
}

#[test]
fn a_copy_goes_where_the_narrowest_purpose_says() {
    let titles = vec![title(0, "Ash Harbour", "Lantern Row", Some("Harbour")), title(1, "Brine", "Lantern Row", None)];
    let purposes = [
        Purpose::Rest,
        Purpose::Size(SizeClass::Golden),
        Purpose::Publisher("LANTERN  row".to_owned()),
        Purpose::Family("harbour".to_owned()),
        Purpose::Title(TitleId::new(1)),
        Purpose::Unread,
        Purpose::Size(SizeClass::Magazine),
    ];
    let boxes =
        purposes.into_iter().enumerate().map(|(n, purpose)| ShelfBox { magazines: n == 6, ..shelf(n, 375, purpose) });
    let mut wall = Wall { titles, boxes: boxes.collect(), books: Vec::new() };
    let mut goes = |title: u32, size, unread, without: Option<usize>| {
        wall.books = vec![Book { size, unread, ..book(0, title, 1, 3000, None) }];
        let mut wall = wall.clone();
        if let Some(without) = without {
            wall.boxes.truncate(without);
        }
        let plan = plan(&wall, &PlanOptions::default()).unwrap();
        plan.boxes[plan.goes_to[0] as usize].at
    };
    use SizeClass::{Current, Golden, Magazine};
    assert_eq!(goes(0, Current, true, None), Some(5));
    assert_eq!(goes(0, Current, false, None), Some(4));
    assert_eq!(goes(0, Current, true, Some(4)), Some(3));
    assert_eq!(goes(0, Golden, false, Some(3)), Some(2));
    assert_eq!(goes(1, Golden, false, Some(2)), Some(1));
    assert_eq!(goes(1, Current, false, Some(2)), Some(0));
    // A magazine fits into no comic box, whatever the title is.
    assert_eq!(goes(0, Magazine, false, None), Some(6));
    assert_eq!(goes(0, Magazine, false, Some(5)), None);
}
