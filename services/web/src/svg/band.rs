//! A tank's temperature on a short ruler between the two posts of its band.

use super::Drawing;
use crate::view::Water;
use maud::{Markup, html};

/// Where a temperature stands on the ruler, 0 to 150; the posts are at 40 and 110.
pub(crate) fn place(celsius: f64, low: f64, high: f64) -> f64 {
    let width = (high - low).max(0.1);
    (40.0 + 70.0 * (celsius - low) / width).clamp(4.0, 146.0)
}

/// The ruler, or nothing when the vessel has no band. Its words stand beside it, so it is hidden from
/// assistive text.
pub(crate) fn ruler(water: &Water) -> Markup {
    let Some(band) = water.band else { return html! {} };
    let mut d = Drawing::default();
    d.line("ruler", (2.0, 12.0), (148.0, 12.0));
    for (x, words) in [(40.0, band.low), (110.0, band.high)] {
        d.line("post", (x, 4.0), (x, 20.0));
        d.text("t", "middle", x, 33.0, &format!("{words:.1}"));
    }
    if let Some(c) = water.celsius {
        let class = if band.contains(c) { "core" } else { "core out" };
        d.dot(class, place(c, band.low, band.high), 12.0, 5.5);
    }
    d.finish("ruler-box", 150.0, 36.0, None)
}

#[cfg(test)]
mod tests {
    use super::place;

    #[test]
    fn inside_the_band_is_between_the_posts() {
        assert_eq!(place(26.0, 26.0, 28.0), 40.0);
        assert_eq!(place(28.0, 26.0, 28.0), 110.0);
        assert!(place(5.0, 26.0, 28.0) < 40.0 && place(45.0, 26.0, 28.0) > 110.0);
        assert!(place(27.0, 27.0, 27.0).is_finite());
    }
}
