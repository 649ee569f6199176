//! The two faces every sheet is set in, and how wide a text is in them.

use std::collections::BTreeMap;

use krilla::text::{Font, GlyphId, KrillaGlyph};
use skrifa::MetadataProvider as _;
use skrifa::instance::{LocationRef, Size};

/// Shown where a face has no sign for a character; the attached data hold the character itself.
const STAND_IN: char = '\u{fffd}';

/// A face: its glyph and advance by character.
pub struct Face {
    pub(crate) font: Font,
    glyphs: BTreeMap<char, (u32, f32)>,
    stand_in: (u32, f32),
}

/// Regular and bold.
pub struct Fonts {
    pub(crate) regular: Face,
    pub(crate) bold: Face,
}

impl Fonts {
    /// Reads the embedded fonts; `None` never happens unless the program itself is damaged.
    #[must_use]
    pub fn load() -> Option<Self> {
        Some(Self {
            regular: Face::load(dejavu::sans_condensed::regular())?,
            bold: Face::load(dejavu::sans_condensed::bold())?,
        })
    }

    pub(crate) fn face(&self, bold: bool) -> &Face {
        if bold { &self.bold } else { &self.regular }
    }
}

impl Face {
    fn load(data: &'static [u8]) -> Option<Self> {
        let read = skrifa::FontRef::new(data).ok()?;
        let metrics = read.glyph_metrics(Size::unscaled(), LocationRef::default());
        let upem = f32::from(read.metrics(Size::unscaled(), LocationRef::default()).units_per_em);
        let mut glyphs = BTreeMap::new();
        for (c, glyph) in read.charmap().mappings() {
            if let (Some(c), Some(advance)) = (char::from_u32(c), metrics.advance_width(glyph)) {
                glyphs.insert(c, (glyph.to_u32(), advance / upem));
            }
        }
        let stand_in = *glyphs.get(&STAND_IN)?;
        Some(Self { font: Font::new(data.into(), 0)?, glyphs, stand_in })
    }

    fn glyph(&self, c: char) -> (u32, f32) {
        // Control characters have no sign and would be drawn as a box.
        let c = if c.is_control() || c == '\u{a0}' { ' ' } else { c };
        self.glyphs.get(&c).copied().unwrap_or(self.stand_in)
    }

    /// Width of one line, pt.
    pub(crate) fn width(&self, text: &str, size: f32) -> f32 {
        text.chars().map(|c| self.glyph(c).1).sum::<f32>() * size
    }

    /// The glyphs of one line.
    pub(crate) fn glyphs(&self, text: &str) -> Vec<KrillaGlyph> {
        let glyph = |(at, c): (usize, char)| {
            let (id, advance) = self.glyph(c);
            KrillaGlyph::new(GlyphId::new(id), advance, 0.0, 0.0, 0.0, at..at + c.len_utf8(), None)
        };
        text.char_indices().map(glyph).collect()
    }

    /// Breaks text into lines no wider than `width`, at spaces; a word wider than a line is cut.
    /// Line ends in the text are kept.
    pub(crate) fn wrap(&self, text: &str, size: f32, width: f32) -> Vec<String> {
        let mut out = Vec::new();
        for piece in text.lines() {
            self.wrap_piece(piece, size, width, &mut out);
        }
        if out.is_empty() {
            out.push(String::new());
        }
        out
    }

    fn wrap_piece(&self, text: &str, size: f32, width: f32, out: &mut Vec<String>) {
        let space = self.width(" ", size);
        let (mut line, mut used) = (String::new(), 0.0);
        for word in text.split(' ').filter(|w| !w.is_empty()) {
            let needs = self.width(word, size);
            if !line.is_empty() && used + space + needs > width {
                out.push(std::mem::take(&mut line));
                used = 0.0;
            }
            if !line.is_empty() {
                line.push(' ');
                used += space;
            }
            if needs <= width {
                line.push_str(word);
                used += needs;
                continue;
            }
            for c in word.chars() {
                let w = self.glyph(c).1 * size;
                if used + w > width && !line.is_empty() {
                    out.push(std::mem::take(&mut line));
                    used = 0.0;
                }
                line.push(c);
                used += w;
            }
        }
        out.push(line);
    }

    /// The text, cut with an ellipsis where it is wider than `width`.
    pub(crate) fn fitted(&self, text: &str, size: f32, width: f32) -> String {
        if self.width(text, size) <= width {
            return text.to_owned();
        }
        let mut out = String::new();
        let mut used = self.width("…", size);
        for c in text.chars() {
            used += self.glyph(c).1 * size;
            if used > width {
                break;
            }
            out.push(c);
        }
        out.push('…');
        out
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Everything a dossier writes has a sign: degrees, micro, powers, minus, arrows, accents of
    /// the Latin alphabets.
    #[test]
    fn the_faces_hold_what_is_written() {
        let fonts = Fonts::load().unwrap();
        for c in "°µμ²³₂−–—≥≤≈±×→←↓↑…·•«»“”‘’àéîõüçñßøåæœŁłŞşĞğİıŽžČčĄąŐőŘřÞðΔ½✓".chars()
        {
            for face in [&fonts.regular, &fonts.bold] {
                assert!(face.glyphs.contains_key(&c), "{c}");
            }
        }
    }

    #[test]
    fn lines_break_at_spaces_and_long_words_are_cut() {
        let fonts = Fonts::load().unwrap();
        let face = &fonts.regular;
        let lines = face.wrap("return air rose to −12.0 °C at 04:00", 9.0, 60.0);
        assert!(lines.len() > 2);
        assert!(lines.iter().all(|l| face.width(l, 9.0) <= 60.0), "{lines:?}");
        assert_eq!(lines.join(" "), "return air rose to −12.0 °C at 04:00");
        let cut = face.wrap(&"x".repeat(80), 9.0, 60.0);
        assert_eq!(cut.concat(), "x".repeat(80));
        assert!(cut.iter().all(|l| face.width(l, 9.0) <= 60.0));
        assert_eq!(face.wrap("", 9.0, 60.0), [""]);
        assert_eq!(face.wrap("漢", 9.0, 0.1).len(), 1);
    }
}
