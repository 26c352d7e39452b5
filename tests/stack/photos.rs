//! The photos of the example stack: what lies before the camera, how it was taken, and what may be read from it.

use super::titles::{
    CAPTAIN_UMBER, COPPER_SAINTS, HEX_AND_HARBOUR, LOW_WATER, MOTH_PARLIAMENT, ORLA_QUILL, SALT_MERIDIAN, TIDE_WARDENS,
};
use crate::render::symbol::{check, digits};
use crate::render::{Bars, Bend, Book, Cover, Desk, Glare, Light, Motion, Noise, Pose, Scene, Symbol};

/// A photo and what is true of it.
pub struct Photo {
    /// The file's name.
    pub name: &'static str,
    /// How it is made.
    pub scene: Scene,
    /// The main code as 13 digits; empty: nothing may be read.
    pub main: String,
    /// The add-on; empty: there is none, or nobody could read it.
    pub add_on: &'static str,
    /// What a good reader says of the add-on's place: `read`, `absent`, `unread`, or empty when nothing is read.
    pub state: &'static str,
    /// The other books in the picture, as main code and add-on.
    pub more: Vec<(String, &'static str)>,
    /// In a few words, for people.
    pub note: &'static str,
}

/// `truth.tsv` for these photos.
pub fn truth() -> String {
    let mut text = String::from(
        "# path\tmain, as 13 digits (a UPC-A with a leading 0); empty: nothing may be read\tadd-on; empty: not scored\
         \talso: another code that is truly in the picture\tstate of the add-on: read, absent, unread; empty: no code\
         \tmore: codes of the other books, main+add-on, separated by blanks\n",
    );
    for photo in photos() {
        let also = photo.more.first().map_or("", |(main, _)| main.as_str());
        let more: Vec<String> = photo.more.iter().map(|(main, add_on)| format!("{main}+{add_on}")).collect();
        let Photo { name, main, add_on, state, .. } = &photo;
        text += &format!("{name}\t{main}\t{add_on}\t{also}\t{state}\t{}\n", more.join(" "));
    }
    text
}

const WOOD: Desk = Desk::Wood { ink: [0.33, 0.19, 0.10], grain_px: 9.0 };
const DARK_WOOD: Desk = Desk::Wood { ink: [0.12, 0.07, 0.045], grain_px: 14.0 };
/// Daylight from a window on the left, and a lamp.
const DAY: Light = Light { level: 0.82, slope: [-0.35, 0.1], vignette: 0.2, tint: [1.0, 0.99, 0.96] };
const LAMP: Light = Light { level: 0.7, slope: [0.25, 0.3], vignette: 0.3, tint: [1.0, 0.9, 0.74] };
/// What is left of a phone's noise after the phone smoothed it.
const CALM: Noise = Noise { shot: 0.012, read: 0.0015 };

/// How a book is held: turn, tilt about the horizontal and the vertical axis.
fn held(book: &mut Book, turn_deg: f32, tilt_x_deg: f32, tilt_y_deg: f32) {
    book.pose.turn_deg = turn_deg;
    book.pose.tilt_x_deg = tilt_x_deg;
    book.pose.tilt_y_deg = tilt_y_deg;
}

fn scene(seed: u64, mut book: Book, at_px: [f32; 2], module_px: f32) -> Scene {
    book.pose.at_px = at_px;
    book.pose.module_px = module_px;
    Scene {
        width: 1600,
        height: 1200,
        seed,
        desk: WOOD,
        books: vec![book],
        light: DAY,
        defocus_modules: 0.3,
        noise: CALM,
        jpeg_quality: Some(66),
        ..Scene::default()
    }
}

fn photo(name: &'static str, note: &'static str, main: String, add_on: &'static str, scene: Scene) -> Photo {
    Photo { name, scene, main, add_on, state: "read", more: Vec::new(), note }
}

/// Every photo, in the order of their names.
pub fn photos() -> Vec<Photo> {
    let mut all = Vec::new();
    all.extend(tide_wardens());
    all.extend(lantern_row_and_brass_heron());
    all.extend(ninth_kettle_and_older());
    all.extend(hard_ones());
    all
}

fn tide_wardens() -> Vec<Photo> {
    let title = TIDE_WARDENS;
    let first = scene(1, title.issue("01211", "12"), [560.0, 830.0], 3.4);

    let mut double = scene(2, title.issue("01211", "12"), [760.0, 640.0], 2.9);
    held(&mut double.books[0], 12.0, 6.0, 0.0);
    double.light = LAMP;

    let mut lying = scene(3, title.issue("01311", "13"), [520.0, 520.0], 3.1);
    held(&mut lying.books[0], 90.0, 0.0, 4.0);

    let mut variant = scene(4, title.issue("01321", "13"), [690.0, 760.0], 3.3);
    held(&mut variant.books[0], -8.0, 5.0, 3.0);
    variant.desk = DARK_WOOD;

    let mut second = scene(5, title.issue("01112", "11"), [980.0, 420.0], 3.0);
    held(&mut second.books[0], 180.0, -4.0, 0.0);

    let mut curled = scene(6, title.issue("01411", "14"), [660.0, 700.0], 3.6);
    held(&mut curled.books[0], 4.0, 8.0, 0.0);
    curled.books[0].pose.bend = Some(Bend { radius_modules: 190.0, crest_deg: 0.0 });
    curled.light = LAMP;
    vec![
        photo("photo-01.jpg", "Tide Wardens 12", title.code(), "01211", first),
        photo("photo-02.jpg", "Tide Wardens 12, a second copy: a double", title.code(), "01211", double),
        photo("photo-03.jpg", "Tide Wardens 13, lying", title.code(), "01311", lying),
        photo("photo-04.jpg", "Tide Wardens 13, cover 2", title.code(), "01321", variant),
        photo("photo-05.jpg", "Tide Wardens 11, second printing, upside down", title.code(), "01112", second),
        photo("photo-06.jpg", "Tide Wardens 14, curled", title.code(), "01411", curled),
    ]
}

fn lantern_row_and_brass_heron() -> Vec<Photo> {
    let salt = SALT_MERIDIAN;
    let mut tilted = scene(7, salt.issue("00111", "1"), [640.0, 720.0], 3.2);
    held(&mut tilted.books[0], -5.0, 24.0, 8.0);

    let mut bagged = scene(8, salt.issue("00131", "1"), [700.0, 690.0], 3.3);
    held(&mut bagged.books[0], 6.0, 4.0, -5.0);
    bagged.books[0].haze = 0.06;
    bagged.books[0].glare =
        vec![Glare { at_modules: [60.0, 20.0], half_modules: [200.0, 9.0], turn_deg: -12.0, strength: 0.35 }];

    let mut lying = scene(9, salt.issue("00211", "2"), [840.0, 640.0], 2.8);
    held(&mut lying.books[0], 270.0, 3.0, 3.0);
    lying.light = LAMP;

    let moth = MOTH_PARLIAMENT;
    let high = scene(10, moth.issue("10411", "104"), [600.0, 800.0], 3.5);

    let mut far = scene(11, moth.issue("10611", "106"), [330.0, 1330.0], 1.9);
    (far.width, far.height) = (1200, 1600);
    held(&mut far.books[0], 2.0, 3.0, 0.0);
    far.desk = DARK_WOOD;

    let orla = ORLA_QUILL;
    let mut straight = scene(12, orla.issue("07011", "7"), [570.0, 790.0], 3.3);
    straight.light = LAMP;

    let mut twelfth = scene(13, orla.issue("07121", "7"), [720.0, 720.0], 3.0);
    held(&mut twelfth.books[0], 17.0, 3.0, 5.0);

    let mut again = scene(14, orla.issue("08012", "8"), [900.0, 480.0], 3.2);
    held(&mut again.books[0], 174.0, 6.0, -4.0);
    again.desk = DARK_WOOD;
    vec![
        photo("photo-07.jpg", "Salt Meridian 1, tilted", salt.code(), "00111", tilted),
        photo("photo-08.jpg", "Salt Meridian 1, cover 3, in its bag", salt.code(), "00131", bagged),
        photo("photo-09.jpg", "Salt Meridian 2, lying", salt.code(), "00211", lying),
        photo("photo-10.jpg", "Moth Parliament 104", moth.code(), "10411", high),
        photo("photo-11.jpg", "Moth Parliament 106, the whole cover", moth.code(), "10611", far),
        photo("photo-12.jpg", "Orla Quill 7", orla.code(), "07011", straight),
        photo("photo-13.jpg", "Orla Quill 7, cover 12", orla.code(), "07121", twelfth),
        photo("photo-14.jpg", "Orla Quill 8, second printing, upside down", orla.code(), "08012", again),
    ]
}

fn ninth_kettle_and_older() -> Vec<Photo> {
    let saints = COPPER_SAINTS;
    let mut large = scene(15, saints.issue("31011", "31"), [1500.0, 2060.0], 7.2);
    (large.width, large.height) = (4032, 3024);
    large.desk = Desk::Wood { ink: [0.33, 0.19, 0.10], grain_px: 23.0 };
    large.jpeg_quality = Some(45);
    large.noise = Noise { shot: 0.006, read: 0.001 };
    large.supersample = 2;
    held(&mut large.books[0], -3.0, 5.0, 2.0);

    let hex = HEX_AND_HARBOUR;
    let mut dim = scene(16, hex.issue("00311", "3"), [640.0, 740.0], 3.2);
    dim.light = Light { level: 0.16, ..LAMP };
    dim.noise = Noise { shot: 0.02, read: 0.004 };
    dim.jpeg_quality = Some(60);
    held(&mut dim.books[0], 5.0, 0.0, 0.0);

    let mut strip = scene(17, hex.issue("00411", "4"), [620.0, 760.0], 3.4);
    strip.books[0].haze = 0.05;
    strip.books[0].glare =
        vec![Glare { at_modules: [75.0, 16.0], half_modules: [170.0, 13.0], turn_deg: 4.0, strength: 2.0 }];
    held(&mut strip.books[0], -6.0, 3.0, 3.0);

    let umber = CAPTAIN_UMBER;
    let mut cover = Cover::front(1984, umber.title, "#58 75$ AUG", "Beware the brass tide!");
    cover.box_line = "58 AUG 75 CENTS".to_owned();
    let mut old = Book::new(umber.symbol().with_two([0, 8]), cover, Pose::default());
    // Newsprint turns yellow, and its ink spreads.
    old.bars = Bars { dark: [0.08, 0.07, 0.065], light: [0.66, 0.58, 0.42] };
    old.bar_growth_modules = 0.08;
    held(&mut old, 3.0, 4.0, -3.0);
    let old = scene(18, old, [560.0, 800.0], 3.3);

    let book = LOW_WATER;
    let cover = Cover::back(2025, book.title, "ISBN 979-8-9999999-9-3", "");
    let mut back = Book::new(book.symbol().with_five(digits("51999")), cover, Pose::default());
    held(&mut back, -2.0, 6.0, 0.0);
    let back = scene(19, back, [980.0, 800.0], 3.3);
    vec![
        photo("photo-15.jpg", "Copper Saints of Vell 31, twelve megapixels", saints.code(), "31011", large),
        photo("photo-16.jpg", "Hex & Harbour 3, dim and noisy", hex.code(), "00311", dim),
        photo("photo-17.jpg", "Hex & Harbour 4, a reflection over half of the height", hex.code(), "00411", strip),
        photo("photo-18.jpg", "Captain Umber 58, two-digit add-on, yellowed", umber.code(), "08", old),
        photo("photo-19.jpg", "Tide Wardens: Low Water, a collected edition", book.code(), "51999", back),
    ]
}

fn hard_ones() -> Vec<Photo> {
    let (orla, saints, hex) = (ORLA_QUILL, COPPER_SAINTS, HEX_AND_HARBOUR);
    let mut three = scene(20, orla.issue("09011", "9"), [420.0, 500.0], 2.3);
    (three.width, three.height) = (2016, 1512);
    three.jpeg_quality = Some(62);
    held(&mut three.books[0], -7.0, 2.0, 0.0);
    for (mut book, at, turn) in
        [(saints.issue("32011", "32"), [1120.0, 870.0], 5.0), (hex.issue("00511", "5"), [1330.0, 1250.0], 78.0)]
    {
        book.pose.at_px = at;
        book.pose.module_px = 2.3;
        held(&mut book, turn, 2.0, 0.0);
        three.books.push(book);
    }
    let three = Photo {
        more: vec![(saints.code(), "32011"), (hex.code(), "00511")],
        ..photo(
            "photo-20.jpg",
            "three books: Orla Quill 9, Copper Saints 32, Hex & Harbour 5",
            orla.code(),
            "09011",
            three,
        )
    };

    let mut blurred = scene(21, MOTH_PARLIAMENT.issue("10511", "105"), [640.0, 720.0], 2.6);
    blurred.defocus_modules = 3.2;
    blurred.motion = Motion { length_modules: 5.0, turn_deg: 20.0 };
    let note = "Moth Parliament 105, so blurred that nobody can read it";
    let blurred = Photo { state: "", ..photo("photo-21.jpg", note, String::new(), "", blurred) };

    let salt = SALT_MERIDIAN;
    let mut burnt = scene(22, salt.issue("00311", "3"), [680.0, 720.0], 3.3);
    // The last bars stay: something is there, so nobody may say that the book has no add-on.
    burnt.books[0].glare =
        vec![Glare { at_modules: [121.0, 38.0], half_modules: [14.0, 80.0], turn_deg: 4.0, strength: 4.0 }];
    held(&mut burnt.books[0], 5.0, 3.0, 0.0);
    let note = "Salt Meridian 3, its add-on burnt out by a reflection";
    let burnt = Photo { state: "unread", ..photo("photo-22.jpg", note, salt.code(), "", burnt) };

    // The picture's edge runs through the add-on.
    let mut cut = scene(23, hex.issue("00611", "6"), [1440.0, 760.0], 3.4);
    held(&mut cut.books[0], -4.0, 3.0, 0.0);
    let note = "Hex & Harbour 6, its add-on cut off by the picture's edge";
    let cut = Photo { state: "unread", ..photo("photo-23.jpg", note, hex.code(), "", cut) };

    let body = digits::<12>("952123400417");
    let code: [u8; 13] = std::array::from_fn(|i| body.get(i).copied().unwrap_or_else(|| check(&body)));
    let mut cover = Cover::front(5, "Oat biscuits", "Net 250 g", "With real oats!");
    cover.figure = false;
    cover.edges = [-240.0, -300.0, 230.0, 130.0];
    let mut biscuits = Book::new(Symbol::ean_13(code), cover, Pose::default());
    held(&mut biscuits, 9.0, 5.0, 5.0);
    let biscuits = scene(24, biscuits, [840.0, 720.0], 3.2);
    let note = "no comic: a packet of biscuits that lay on the desk";
    let main: String = code.iter().map(|&d| char::from(b'0' + d)).collect();
    let biscuits = Photo { state: "absent", ..photo("photo-24.jpg", note, main, "", biscuits) };
    vec![three, blurred, burnt, cut, biscuits]
}
