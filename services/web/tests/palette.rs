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

/// Published pairs: black on white 21:1 (WCAG 2.2, definition of contrast ratio); #767676 on white is the
/// well-known lightest grey that passes, 4.5422.
#[test]
fn the_formula_agrees_with_published_pairs() {
    assert!((contrast("#000000", "#ffffff") - 21.0).abs() < 1e-9);
    assert!((contrast("#767676", "#ffffff") - 4.5422).abs() < 5e-5);
    assert!(contrast("#777777", "#ffffff") < 4.5);
}

#[test]
fn every_text_stands_out_from_every_ground_it_is_set_on() {
    for n in 0..2 {
        let p = palette(n);
        assert_eq!(p.len(), 13, "palette {n}: {p:?}");
        let pairs =
            [("ink", "paper"), ("ink", "badbg"), ("ink", "water"), ("soft", "paper"), ("bad", "paper")];
        for (text, ground) in pairs {
            let c = contrast(p[text], p[ground]);
            assert!(c >= 4.5, "palette {n}: {text} on {ground} is {c:.2}");
        }
    }
}

/// Lines that carry meaning need 3:1 (WCAG 2.2, 1.4.11).
#[test]
fn drawn_things_that_carry_meaning_stand_out() {
    for n in 0..2 {
        let p = palette(n);
        for (line, ground) in [
            ("glass", "paper"),
            ("yolk", "paper"),
            ("bad", "paper"),
            ("cool", "paper"),
            ("hot", "paper"),
            ("bad", "badbg"),
        ] {
            let c = contrast(p[line], p[ground]);
            assert!(c >= 3.0, "palette {n}: {line} on {ground} is {c:.2}");
        }
        // An egg shows by its rim on the day's paper and by its fill at night.
        let egg = contrast(p["edge"], p["water"]).max(contrast(p["fill"], p["water"]));
        assert!(egg >= 3.0, "palette {n}: egg {egg:.2}");
    }
}

#[test]
fn no_text_is_given_a_colour_outside_the_tested_pairs() {
    for rule in CSS.split('}') {
        for part in rule.split(['{', ';']).map(str::trim).filter(|p| p.starts_with("color:")) {
            let known = ["color:var(--ink)", "color:var(--soft)", "color:var(--bad)", "color:inherit"];
            assert!(known.contains(&part), "{part}");
        }
    }
}
