//! Digits and capital letters on a grid of five by seven dots, drawn with rounded corners.

/// Rows from the top; bit 4 is the left dot.
const DIGITS: [[u8; 7]; 10] = [
    [14, 17, 17, 17, 17, 17, 14],
    [4, 12, 20, 4, 4, 4, 31],
    [14, 17, 1, 2, 4, 8, 31],
    [31, 2, 4, 14, 1, 17, 14],
    [2, 6, 10, 18, 31, 2, 2],
    [31, 16, 30, 1, 1, 17, 14],
    [6, 8, 16, 30, 17, 17, 14],
    [31, 1, 2, 4, 8, 8, 8],
    [14, 17, 17, 14, 17, 17, 14],
    [14, 17, 17, 15, 1, 2, 12],
];
const LETTERS: [[u8; 7]; 26] = [
    [14, 17, 17, 31, 17, 17, 17],
    [30, 17, 17, 30, 17, 17, 30],
    [14, 17, 16, 16, 16, 17, 14],
    [28, 18, 17, 17, 17, 18, 28],
    [31, 16, 16, 30, 16, 16, 31],
    [31, 16, 16, 30, 16, 16, 16],
    [14, 17, 16, 23, 17, 17, 15],
    [17, 17, 17, 31, 17, 17, 17],
    [14, 4, 4, 4, 4, 4, 14],
    [7, 2, 2, 2, 2, 18, 12],
    [17, 18, 20, 24, 20, 18, 17],
    [16, 16, 16, 16, 16, 16, 31],
    [17, 27, 21, 21, 17, 17, 17],
    [17, 17, 25, 21, 19, 17, 17],
    [14, 17, 17, 17, 17, 17, 14],
    [30, 17, 17, 30, 16, 16, 16],
    [14, 17, 17, 17, 21, 18, 13],
    [30, 17, 17, 30, 20, 18, 17],
    [15, 16, 16, 14, 1, 1, 30],
    [31, 4, 4, 4, 4, 4, 4],
    [17, 17, 17, 17, 17, 17, 14],
    [17, 17, 17, 17, 17, 10, 4],
    [17, 17, 17, 21, 21, 27, 17],
    [17, 17, 10, 4, 10, 17, 17],
    [17, 17, 17, 10, 4, 4, 4],
    [31, 1, 2, 4, 8, 16, 31],
];

/// Above this share a point is ink: below a half, because diagonals would fall apart into dots.
pub const INKED: f32 = 0.42;
/// From one letter to the next, in dots.
pub const STEP_DOTS: f32 = 6.0;

fn rows(letter: char) -> [u8; 7] {
    match letter {
        '0'..='9' => DIGITS[letter as usize - '0' as usize],
        'A'..='Z' => LETTERS[letter as usize - 'A' as usize],
        'a'..='z' => LETTERS[letter as usize - 'a' as usize],
        '.' => [0, 0, 0, 0, 0, 12, 12],
        ',' => [0, 0, 0, 0, 12, 4, 8],
        '!' => [4, 4, 4, 4, 4, 0, 4],
        '?' => [14, 17, 1, 2, 4, 0, 4],
        '#' => [10, 10, 31, 10, 31, 10, 10],
        '$' => [4, 15, 20, 14, 5, 30, 4],
        '&' => [12, 18, 20, 8, 21, 18, 13],
        '-' => [0, 0, 0, 31, 0, 0, 0],
        ':' => [0, 12, 12, 0, 12, 12, 0],
        '\'' => [4, 4, 8, 0, 0, 0, 0],
        _ => [0; 7],
    }
}

/// How much of `letter` is at (`x`, `y`), in dots from its top left corner, 0 to 1.
pub fn ink(letter: char, x: f32, y: f32) -> f32 {
    let rows = rows(letter);
    let dot = |column: i32, row: i32| {
        let inside = (0..5).contains(&column) && (0..7).contains(&row);
        if inside && rows[row as usize] >> (4 - column) & 1 == 1 { 1.0 } else { 0.0 }
    };
    let (x, y) = (x - 0.5, y - 0.5);
    // Shifted so that the cast, which rounds towards zero, rounds down.
    let (column, row) = ((x + 8.0) as i32 - 8, (y + 8.0) as i32 - 8);
    let (fx, fy) = (x - column as f32, y - row as f32);
    let top = dot(column, row) * (1.0 - fx) + dot(column + 1, row) * fx;
    let bottom = dot(column, row + 1) * (1.0 - fx) + dot(column + 1, row + 1) * fx;
    top * (1.0 - fy) + bottom * fy
}

/// How much of a line of text is at (`x`, `y`), in dots from its top left corner.
pub fn line(text: &[char], x: f32, y: f32) -> f32 {
    if !(-0.5..7.5).contains(&y) || x < -0.5 || x > text.len() as f32 * STEP_DOTS {
        return 0.0;
    }
    let at = |i: usize| text.get(i).map_or(0.0, |&c| ink(c, x - i as f32 * STEP_DOTS, y));
    let i = (x.max(0.0) / STEP_DOTS) as usize;
    // The next letter's rounded edge begins half a dot before its cell.
    at(i).max(at(i + 1))
}
