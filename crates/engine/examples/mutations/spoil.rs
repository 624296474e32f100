//! Ways in which the bytes of a file go wrong.

use crate::chance::Chance;

/// What somebody, or a broken program, writes where a number should be.
const WORDS: &[&str] = &[
    "0",
    "-0",
    "1",
    "-1",
    "1e22",
    "1e38",
    "1e-38",
    "1e300",
    "-1e300",
    "1e999",
    "NaN",
    "-nan",
    "inf",
    "-Infinity",
    "1,5",
    "0x10",
    "4294967295",
    "4294967296",
    "2147483648",
    "18446744073709551616",
    "999999999999",
    "1.2.3",
    "--4",
    "5mm",
    "é",
    "",
    "true",
    "null",
    "\"7\"",
];

/// Four bytes that are extreme as a float, a count or an index.
const FOURS: &[[u8; 4]] = &[
    [0, 0, 0, 0],
    [0, 0, 0, 0x80],
    [0xff, 0xff, 0xff, 0xff],
    [0xff, 0xff, 0xff, 0x7f],
    [0, 0, 0xc0, 0x7f],
    [0, 0, 0x80, 0x7f],
    [0, 0, 0x80, 0xff],
    [0xff, 0xff, 0x7f, 0x7f],
    [1, 0, 0, 0],
    [0x7f, 0x0b, 0x81, 0x66],
];

type Spoil = fn(&mut Vec<u8>, &[Vec<u8>], &mut Chance);

const WAYS: &[(&str, Spoil)] = &[
    ("bytes are changed", flipped),
    ("the end is cut off", cut_off),
    ("a piece comes again", repeated),
    ("a piece is missing", removed),
    ("bytes are put in between", put_in),
    ("a number is replaced", number_replaced),
    ("a number is replaced", number_replaced),
    ("four bytes become an extreme number", four_replaced),
    ("lines come twice, are missing or change places", lines_mixed),
    ("a part of another file is put in", from_another),
    ("a count or size grows", count_grown),
];

/// Spoils the bytes in one way; returns its name. `others` are files to take parts from.
pub fn spoil(bytes: &mut Vec<u8>, others: &[Vec<u8>], chance: &mut Chance) -> &'static str {
    let (what, way) = chance.of(WAYS);
    if !bytes.is_empty() {
        way(bytes, others, chance);
    }
    what
}

/// A random place, more often near the head, where formats keep their counts.
fn place(bytes: &[u8], chance: &mut Chance) -> usize {
    let within = if chance.happens(0.3) { bytes.len().min(300) } else { bytes.len() };
    chance.below(within)
}

fn piece(bytes: &[u8], chance: &mut Chance) -> std::ops::Range<usize> {
    let from = place(bytes, chance);
    let longest = if chance.happens(0.7) { 60 } else { bytes.len() };
    from..(from + 1 + chance.below(longest)).min(bytes.len())
}

// One type for all ways of the table, some of which change the length.
#[allow(clippy::ptr_arg)]
fn flipped(bytes: &mut Vec<u8>, _: &[Vec<u8>], chance: &mut Chance) {
    for _ in 0..1 + chance.below(8) {
        let at = place(bytes, chance);
        bytes[at] = chance.below(256) as u8;
    }
}

fn cut_off(bytes: &mut Vec<u8>, _: &[Vec<u8>], chance: &mut Chance) {
    let length = if chance.happens(0.5) {
        chance.below(bytes.len())
    } else {
        bytes.len() - 1 - chance.below(bytes.len().min(80))
    };
    bytes.truncate(length);
}

fn repeated(bytes: &mut Vec<u8>, _: &[Vec<u8>], chance: &mut Chance) {
    let copy = bytes[piece(bytes, chance)].to_vec();
    let at = if chance.happens(0.5) { bytes.len() } else { place(bytes, chance) };
    bytes.splice(at..at, copy);
}

fn removed(bytes: &mut Vec<u8>, _: &[Vec<u8>], chance: &mut Chance) {
    bytes.drain(piece(bytes, chance));
}

fn put_in(bytes: &mut Vec<u8>, _: &[Vec<u8>], chance: &mut Chance) {
    let at = place(bytes, chance);
    let more: Vec<u8> =
        (0..1 + chance.below(12)).map(|_| *chance.of(b" \n\r\t\0\\/#-+.,0123456789efvlnt{}[]\":\xff")).collect();
    bytes.splice(at..at, more);
}

/// Where a text has numbers.
fn numbers(bytes: &[u8]) -> Vec<std::ops::Range<usize>> {
    let figure = |b: &u8| matches!(b, b'0'..=b'9' | b'.' | b'-' | b'e');
    let mut found = Vec::new();
    let mut at = 0;
    while at < bytes.len() {
        let length = bytes[at..].iter().take_while(|b| figure(b)).count();
        if bytes[at..at + length].iter().any(u8::is_ascii_digit) {
            found.push(at..at + length);
        }
        at += length.max(1);
    }
    found
}

fn number_replaced(bytes: &mut Vec<u8>, _: &[Vec<u8>], chance: &mut Chance) {
    for _ in 0..1 + chance.below(3) {
        let numbers = numbers(bytes);
        if numbers.is_empty() {
            return;
        }
        let near_head = if chance.happens(0.3) { numbers.len().min(8) } else { numbers.len() };
        let range = numbers[chance.below(near_head)].clone();
        bytes.splice(range, chance.of(WORDS).bytes());
    }
}

// One type for all ways of the table, some of which change the length.
#[allow(clippy::ptr_arg)]
fn four_replaced(bytes: &mut Vec<u8>, _: &[Vec<u8>], chance: &mut Chance) {
    for _ in 0..1 + chance.below(4) {
        let at = place(bytes, chance);
        for (byte, new) in bytes[at..].iter_mut().zip(chance.of(FOURS)) {
            *byte = *new;
        }
    }
}

fn lines_mixed(bytes: &mut Vec<u8>, _: &[Vec<u8>], chance: &mut Chance) {
    let mut lines: Vec<Vec<u8>> = bytes.split_inclusive(|b| *b == b'\n').map(<[u8]>::to_vec).collect();
    for _ in 0..1 + chance.below(6) {
        if lines.is_empty() {
            break;
        }
        let [from, to] = [chance.below(lines.len()), chance.below(lines.len())];
        match chance.below(3) {
            0 => lines.swap(from, to),
            1 => lines.insert(to, lines[from].clone()),
            _ => drop(lines.remove(from)),
        }
    }
    *bytes = lines.concat();
}

fn from_another(bytes: &mut Vec<u8>, others: &[Vec<u8>], chance: &mut Chance) {
    let other = chance.of(others);
    let part = other[piece(other, chance)].to_vec();
    let at = piece(bytes, chance);
    bytes.splice(at, part);
}

fn count_grown(bytes: &mut Vec<u8>, _: &[Vec<u8>], chance: &mut Chance) {
    let numbers = numbers(&bytes[..bytes.len().min(400)]);
    match numbers.is_empty() {
        // The count of a binary STL.
        true if bytes.len() > 84 => bytes[80..84].copy_from_slice(chance.of::<[u8; 4]>(FOURS)),
        true => {}
        false => {
            let at = numbers[chance.below(numbers.len())].end;
            bytes.splice(at..at, vec![b'0'; 1 + chance.below(14)]);
        }
    }
}
