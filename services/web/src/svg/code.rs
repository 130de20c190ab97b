//! A QR code (ISO/IEC 18004) as a drawing.

use maud::{Markup, PreEscaped, html};
use qrcode::{Color, EcLevel, QrCode};
use std::fmt::Write as _;

/// Modules that must stay white round a code (ISO/IEC 18004, 9.1, from memory).
const QUIET: usize = 4;

/// A code for a text, black on white whatever the page's colours; `None` for a text too long for any code. Level Q stands a
/// quarter of it being wet, torn or grown over.
pub(crate) fn code(text: &str) -> Option<Markup> {
    let code = QrCode::with_error_correction_level(text, EcLevel::Q).ok()?;
    let (width, colors) = (code.width(), code.to_colors());
    let whole = (width + 2 * QUIET).to_string();
    let box_ = format!("0 0 {whole} {whole}");
    Some(html! {
        svg.code viewBox=(box_) role="img" aria-label={ "Code that opens " (text) } shape-rendering="crispEdges" {
            rect width=(whole) height=(whole) fill="#fff" {}
            path fill="#000" d=(PreEscaped(path(&colors, width))) {}
        }
    })
}

/// One flat rectangle for each run of dark modules in a row.
fn path(colors: &[Color], width: usize) -> String {
    let mut data = String::new();
    for (y, row) in colors.chunks(width).enumerate() {
        let mut x = 0;
        while x < width {
            let run = row[x..].iter().take_while(|c| **c == Color::Dark).count();
            if run > 0 {
                // A string takes everything.
                let _ = write!(data, "M{} {}h{run}v1h-{run}z", x + QUIET, y + QUIET);
            }
            x += run.max(1);
        }
    }
    data
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_fits_no_code_gets_none() {
        assert!(code(&"x".repeat(4_000)).is_none());
        let drawn = code("http://fishroom.lan:4871/vessels/TU1").unwrap().into_string();
        assert!(
            drawn.contains("viewBox=\"0 0 41 41\""),
            "37 bytes at level Q are version 4, 33 modules: {drawn}"
        );
    }
}
