//! Contrast of both palettes by the formula of WCAG 2.2 (relative luminance, contrast ratio), read from the
//! stylesheet that is served.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

use std::collections::BTreeMap;

const CSS: &str = include_str!("../assets/night.css");

fn channel(byte: u8) -> f64 {
    let c = f64::from(byte) / 255.0;
    if c <= 0.04045 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) }
}

fn luminance(hex: &str) -> f64 {
    let n = u32::from_str_radix(hex.trim_start_matches('#'), 16).unwrap();
    let [_, r, g, b] = n.to_be_bytes();
    0.2126 * channel(r) + 0.7152 * channel(g) + 0.0722 * channel(b)
}

fn contrast(a: &str, b: &str) -> f64 {
    let (a, b) = (luminance(a), luminance(b));
    (a.max(b) + 0.05) / (a.min(b) + 0.05)
}

/// The colours of the n-th `:root` block.
fn palette(n: usize) -> BTreeMap<&'static str, &'static str> {
    let block = CSS.split(":root{").nth(n + 1).unwrap().split('}').next().unwrap();
    let pairs = block.split(';').filter_map(|p| p.rsplit("--").next()?.split_once(':'));
    pairs.map(|(k, v)| (k.trim(), v.trim())).filter(|(_, v)| v.starts_with('#')).collect()
}

/// Published pairs: black on white 21:1 (WCAG 2.2, definition of contrast ratio); #767676 and #777777 on white, 4.54 and 4.48, are
/// the well-known greys on both sides of the limit (WebAIM, "Contrast and Color Accessibility"; from memory).
#[test]
fn the_formula_agrees_with_published_pairs() {
    assert!((contrast("#000000", "#ffffff") - 21.0).abs() < 1e-9);
    assert!((contrast("#767676", "#ffffff") - 4.5422).abs() < 5e-5);
    assert!((contrast("#777777", "#ffffff") - 4.48).abs() < 5e-3);
}

/// Text needs 4.5:1 (WCAG 2.2, 1.4.3): what is set in a colour, and on which grounds it is set.
const TEXT: [(&str, &str); 6] = [
    ("ink", "paper"),
    ("ink", "badbg"),
    ("soft", "paper"),
    ("soft", "badbg"),
    ("bad", "paper"),
    ("bad", "badbg"),
];

/// What is drawn and carries meaning, borders of what can be pressed and the ring of the focus need 3:1 (1.4.11, 2.4.7): lines and
/// areas, and what they stand on.
const DRAWN: [(&str, &str); 19] = [
    ("ink", "paper"),
    ("ink", "water"),
    ("soft", "paper"),
    ("soft", "water"),
    ("glass", "paper"),
    ("glass", "water"),
    ("yolk", "paper"),
    ("yolk", "water"),
    ("yolk", "badbg"),
    ("bad", "paper"),
    ("bad", "water"),
    ("bad", "badbg"),
    ("cool", "paper"),
    ("hot", "paper"),
    // An egg has a fill and a rim; the better of both counts.
    ("fill/edge", "water"),
    ("fill/edge", "paper"),
    // A ribbon is filled and has an outline.
    ("fill/ink", "paper"),
    // The dot of water out of its band: filled, and outlined.
    ("bad/ink", "paper"),
    ("yolk/bad", "paper"),
];

/// Grounds, and what only parts one thing from the next: the ruled line beside headings that part them anyway.
const NOT_IN_FRONT: [&str; 4] = ["paper", "water", "badbg", "rule"];

/// The contrast of what is drawn in one or in two colours: the better one counts.
fn stands_out(p: &BTreeMap<&str, &str>, front: &str, ground: &str) -> f64 {
    front.split('/').map(|f| contrast(p[f], p[ground])).fold(0.0, f64::max)
}

#[test]
fn every_text_stands_out_from_every_ground_it_is_set_on() {
    for n in 0..2 {
        for (text, ground) in TEXT {
            let c = stands_out(&palette(n), text, ground);
            assert!(c >= 4.5, "palette {n}: {text} on {ground} is {c:.2}");
        }
    }
}

#[test]
fn drawn_things_that_carry_meaning_stand_out() {
    for n in 0..2 {
        for (line, ground) in DRAWN {
            let c = stands_out(&palette(n), line, ground);
            assert!(c >= 3.0, "palette {n}: {line} on {ground} is {c:.2}");
        }
    }
}

/// Each declaration of the style outside the palettes, as property and value.
fn declarations() -> Vec<(&'static str, &'static str)> {
    let rules = CSS.split(['{', '}', ';']).map(str::trim).filter(|d| !d.starts_with("--"));
    rules.filter_map(|d| d.split_once(':')).filter(|(_, value)| value.contains("var(--")).collect()
}

/// The colours that a value names.
fn named(value: &'static str) -> impl Iterator<Item = &'static str> {
    value.split("var(--").skip(1).filter_map(|v| v.split(')').next())
}

#[test]
fn no_colour_is_left_out_of_the_tables() {
    for n in 0..2 {
        let all: Vec<&str> = palette(n).into_keys().collect();
        assert_eq!(all, palette(0).into_keys().collect::<Vec<_>>(), "both palettes name the same colours");
        let pairs = || TEXT.iter().chain(&DRAWN);
        for colour in all {
            let tested = pairs().any(|(f, g)| f.split('/').any(|f| f == colour) || *g == colour);
            assert!(tested || NOT_IN_FRONT.contains(&colour), "{colour} is in no pair");
            let used = declarations().iter().any(|(_, value)| named(value).any(|c| c == colour));
            assert!(used, "{colour} is used nowhere");
        }
    }
}

#[test]
fn nothing_is_given_a_colour_outside_the_tested_pairs() {
    let declared = declarations();
    assert!(declared.len() > 60, "the style is read: {}", declared.len());
    let known = |table: &[(&str, &str)], c: &str| table.iter().any(|(f, _)| f.split('/').any(|f| f == c));
    for (property, value) in declared {
        for colour in named(value) {
            let fine = match property {
                "color" => known(&TEXT, colour),
                "background" => ["paper", "badbg"].contains(&colour),
                // Areas may be grounds: the water in a flask, the paper behind a lens.
                _ => known(&DRAWN, colour) || NOT_IN_FRONT.contains(&colour),
            };
            assert!(fine, "{property}: {value}");
        }
    }
    // A colour that is written out is in no palette.
    let outside = CSS.split(":root{").skip(1).map(|b| b.split_once('}').unwrap().1).collect::<String>();
    let all = outside.split(['{', '}', ';']).filter_map(|d| d.split_once(':'));
    let written = all.filter(|(_, value)| value.contains('#') || value.contains("rgb"));
    assert_eq!(written.collect::<Vec<_>>(), []);
}
