//! A session on a terminal (util-linux's script makes one): keys without Enter, bells, and a line that counts.

use crate::cli_home::Home;

#[test]
fn keys_need_no_enter_and_the_bell_rings() {
    let home = Home::new();
    // Slowly, as hands are; the terminal must be the session's before the first key comes.
    let typed = "sleep 2; printf '61414100104001211\\r'; sleep 1; printf u; sleep 1; printf '61414100104001311\\r'; \
                 sleep 1; printf q; sleep 1";
    let ran = home.shell(&format!("{{ {typed}; }} | script -qec 'boxward scan --handheld' /dev/null"));
    let out = &ran.out;
    assert!(out.contains("keys: u undo last"), "{out}");
    assert!(out.contains("01211\u{1b}[0m, item 1") && out.contains("taken back: item 1"), "{out}");
    assert!(out.contains("01311\u{1b}[0m, item 1") && out.contains('\x07'), "{out}");
    let queue = home.run(["queue", "list"]);
    assert!(queue.out.contains("01311") && !queue.out.contains("01211"), "{}", queue.out);
}
