//! Drawing on an A4 page: words, boxes, a picture. Lengths are points, 72 to the inch, from the top left.

use crate::Error;
use crate::picture::{packed, text};
use image::RgbImage;
use krilla::color::rgb;
use krilla::geom::{PathBuilder, Point, Rect, Size, Transform};
use krilla::image::Image;
use krilla::paint::Fill;
use krilla::surface::Surface;
use krilla::text::{Font, TextDirection};

/// Points a millimetre.
pub const MM: f32 = 72.0 / 25.4;
/// A4, mm.
pub const A4_MM: [f32; 2] = [210.0, 297.0];
/// Line height over type size.
const LEADING: f32 = 1.32;

/// Weight of the type.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum Weight {
    /// Running text.
    Regular,
    /// Headings.
    Bold,
}

impl Weight {
    fn bytes(self) -> &'static [u8] {
        match self {
            Self::Regular => text::REGULAR,
            Self::Bold => text::BOLD,
        }
    }
}

/// A type style.
#[derive(Clone, Copy)]
pub struct Style {
    /// Weight.
    pub weight: Weight,
    /// Size of the em.
    pub size: f32,
    /// sRGB.
    pub colour: [u8; 3],
}

impl Style {
    /// From one line to the next.
    pub fn line(self) -> f32 {
        self.size * LEADING
    }

    /// How wide the words are.
    pub fn width(self, words: &str) -> f32 {
        // Measured large, so that rounding to pixels does not matter.
        text::width(self.weight.bytes(), 100.0, words) * self.size / 100.0
    }

    /// Breaks words into lines no wider than `width`, inside a word only where it alone is wider.
    pub fn wrap(self, words: &str, width: f32) -> Vec<String> {
        // A number stays with its unit.
        let words = words.replace(" mm", "\u{a0}mm");
        let mut lines = vec![String::new()];
        for word in words.split([' ', '\n', '\t']).filter(|w| !w.is_empty()) {
            let line = lines.last().map_or("", String::as_str);
            let longer = if line.is_empty() { word.to_owned() } else { format!("{line} {word}") };
            if self.width(&longer) <= width {
                lines.pop();
                lines.push(longer);
                continue;
            }
            if line.is_empty() {
                lines.pop();
            }
            let mut piece = String::new();
            for letter in word.chars() {
                piece.push(letter);
                if piece.chars().count() > 1 && self.width(&piece) > width {
                    piece.pop();
                    lines.push(std::mem::replace(&mut piece, letter.into()));
                }
            }
            lines.push(piece);
        }
        lines
    }
}

/// A page being written.
pub struct Page<'a, 'b> {
    surface: &'a mut Surface<'b>,
    regular: Font,
    bold: Font,
}

impl<'a, 'b> Page<'a, 'b> {
    /// Starts a page on a surface.
    pub fn new(surface: &'a mut Surface<'b>) -> Result<Self, Error> {
        let font = |weight: Weight| {
            Font::new(weight.bytes().into(), 0).ok_or_else(|| Error::Page("a built-in typeface cannot be read".into()))
        };
        Ok(Self { surface, regular: font(Weight::Regular)?, bold: font(Weight::Bold)? })
    }

    /// Words with their left end at `x` and their base line at `y`.
    pub fn words(&mut self, style: Style, x: f32, y: f32, words: &str) {
        let words: String = words.chars().filter(|c| !c.is_control()).collect();
        let font = if style.weight == Weight::Bold { &self.bold } else { &self.regular }.clone();
        self.surface.set_fill(Some(ink(style.colour)));
        self.surface.draw_text(Point::from_xy(x, y), font, style.size, &words, false, TextDirection::LeftToRight);
    }

    /// Words wrapped to a width below `top`; returns where the next line would have its top.
    pub fn paragraph(&mut self, style: Style, x: f32, top: f32, width: f32, words: &str) -> f32 {
        let mut y = top;
        for line in style.wrap(words, width) {
            self.words(style, x, y + style.size * 1.05, &line);
            y += style.line();
        }
        y
    }

    /// A filled rectangle.
    pub fn block(&mut self, x: f32, y: f32, width: f32, height: f32, colour: [u8; 3]) {
        let mut path = PathBuilder::new();
        if let Some(rect) = Rect::from_xywh(x, y, width, height) {
            path.push_rect(rect);
        }
        if let Some(path) = path.finish() {
            self.surface.set_fill(Some(ink(colour)));
            self.surface.draw_path(&path);
        }
    }

    /// A picture with its top left corner at `x`, `y`.
    pub fn picture(&mut self, x: f32, y: f32, width: f32, height: f32, picture: &RgbImage) -> Result<(), Error> {
        let image = Image::from_png(packed(picture)?.into(), true).map_err(Error::Page)?;
        let size = Size::from_wh(width, height).ok_or_else(|| Error::Page("no room is left for the picture".into()))?;
        self.surface.push_transform(&Transform::from_translate(x, y));
        self.surface.draw_image(image, size);
        self.surface.pop();
        Ok(())
    }
}

fn ink([r, g, b]: [u8; 3]) -> Fill {
    Fill { paint: rgb::Color::new(r, g, b).into(), ..Fill::default() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn wrapped_lines_fit_and_lose_nothing() {
        let style = Style { weight: Weight::Regular, size: 9.0, colour: [0; 3] };
        let words = "Never leave the guard in a hot car or Unreasonablylongwordwithoutanyblankwhatsoeverinit, please";
        let lines = style.wrap(words, 80.0);
        assert!(lines.iter().all(|l| style.width(l) <= 80.0), "{lines:?}");
        assert_eq!(lines.concat().replace(' ', ""), words.replace(' ', ""));
        assert_eq!(style.wrap("", 80.0), [""]);
    }

    #[test]
    fn a_number_stays_with_its_unit() {
        let style = Style { weight: Weight::Regular, size: 9.0, colour: [0; 3] };
        let lines = style.wrap("every 18 mm", style.width("every 18 ") + 1.0);
        assert_eq!(lines, ["every", "18\u{a0}mm"]);
    }

    #[test]
    fn widths_are_those_of_the_font() {
        let style = Style { weight: Weight::Regular, size: 10.0, colour: [0; 3] };
        let face = ttf_parser_width("No");
        assert!((style.width("No") - face * 10.0).abs() < 0.15, "{} {}", style.width("No"), face * 10.0);
    }

    fn ttf_parser_width(words: &str) -> f32 {
        let face = ttf_parser::Face::parse(text::REGULAR, 0).unwrap();
        let units = words.chars().map(|c| f32::from(face.glyph_hor_advance(face.glyph_index(c).unwrap()).unwrap()));
        units.sum::<f32>() / f32::from(face.units_per_em())
    }
}
