//! The own SVG writer. The only place where markup is not escaped by the template: it writes numbers and
//! fixed class names, and escapes every word that it is given.

pub(crate) mod band;
pub(crate) mod calendar;
pub(crate) mod code;
pub(crate) mod course;
pub(crate) mod flask;
pub(crate) mod ribbon;
pub(crate) mod strip;

use maud::{Markup, PreEscaped, html};
use std::fmt::Write as _;

/// A number with at most one decimal; what is not finite becomes 0 and cannot spoil the drawing.
pub(crate) fn num(x: f64) -> String {
    let x = if x.is_finite() { (x * 10.0).round() / 10.0 } else { 0.0 };
    // -0 would be written with its sign.
    format!("{}", if x == 0.0 { 0.0 } else { x })
}

/// A drawing that grows element by element.
#[derive(Debug, Default)]
pub(crate) struct Drawing {
    body: String,
}

impl Drawing {
    /// A path; `data` is made of numbers and path letters only.
    pub(crate) fn path(&mut self, class: &'static str, data: &str) {
        let _ = write!(self.body, "<path class=\"{class}\" d=\"{data}\"/>");
    }

    /// A straight line.
    pub(crate) fn line(&mut self, class: &'static str, from: (f64, f64), to: (f64, f64)) {
        let data = format!("M{} {}L{} {}", num(from.0), num(from.1), num(to.0), num(to.1));
        self.path(class, &data);
    }

    /// A circle.
    pub(crate) fn dot(&mut self, class: &'static str, x: f64, y: f64, r: f64) {
        let _ = write!(
            self.body,
            "<circle class=\"{class}\" cx=\"{}\" cy=\"{}\" r=\"{}\"/>",
            num(x),
            num(y),
            num(r)
        );
    }

    /// A rectangle.
    pub(crate) fn rect(&mut self, class: &'static str, x: f64, y: f64, w: f64, h: f64) {
        let (x, y, w, h) = (num(x), num(y), num(w.max(0.0)), num(h.max(0.0)));
        let _ =
            write!(self.body, "<rect class=\"{class}\" x=\"{x}\" y=\"{y}\" width=\"{w}\" height=\"{h}\"/>");
    }

    /// Words, escaped. `anchor` is `start`, `middle` or `end`.
    pub(crate) fn text(&mut self, class: &'static str, anchor: &'static str, x: f64, y: f64, words: &str) {
        let words = html! { (words) }.into_string();
        let _ = write!(
            self.body,
            "<text class=\"{class}\" text-anchor=\"{anchor}\" x=\"{}\" y=\"{}\">{words}</text>",
            num(x),
            num(y)
        );
    }

    /// A group opened by `start` (fixed markup with numbers) round what `inside` draws.
    pub(crate) fn group(&mut self, attributes: &str, inside: impl FnOnce(&mut Self)) {
        let _ = write!(self.body, "<g {attributes}>");
        inside(self);
        self.body.push_str("</g>");
    }

    /// The whole drawing as a file of its own, with its colours in it; `style` is fixed text.
    pub(crate) fn file(self, style: &'static str, width: f64, height: f64, label: &str) -> String {
        let (w, h) = (num(width), num(height));
        let title = html! { title { (label) } }.into_string();
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{w}\" height=\"{h}\" viewBox=\"0 0 {w} {h}\" role=\"img\">\
             {title}<style>{style}</style>{}</svg>",
            self.body
        )
    }

    /// The whole drawing with its label for assistive text; without a label it is hidden from it.
    pub(crate) fn finish(self, class: &'static str, width: f64, height: f64, label: Option<&str>) -> Markup {
        let view = format!("0 0 {} {}", num(width), num(height));
        html! {
            @if let Some(label) = label {
                svg class=(class) viewBox=(view) role="img" aria-label=(label) { (PreEscaped(self.body)) }
            } @else {
                svg class=(class) viewBox=(view) aria-hidden="true" { (PreEscaped(self.body)) }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_stay_short_and_finite() {
        assert_eq!(num(1.25), "1.3");
        assert_eq!(num(-0.01), "0");
        assert_eq!(num(f64::NAN), "0");
        assert_eq!(num(f64::INFINITY), "0");
    }

    #[test]
    fn words_in_a_drawing_are_escaped() {
        let mut d = Drawing::default();
        d.text("t", "start", 1.0, 2.0, "<script>\"&");
        let out = d.finish("wide", 10.0, 10.0, Some("a \"<b>")).into_string();
        assert!(out.contains("&lt;script&gt;&quot;&amp;</text>"), "{out}");
        assert!(out.contains("aria-label=\"a &quot;&lt;b&gt;\""), "{out}");
    }
}
