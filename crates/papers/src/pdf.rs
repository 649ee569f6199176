//! From laid out pages to a PDF/A-3b file with its attachments and a blank seal.

use krilla::configure::{Archival, ConfigurationBuilder};
use krilla::destination::XyzDestination;
use krilla::embed::{AssociationKind, EmbeddedFile, MimeType};
use krilla::geom::{PathBuilder, Point, Rect, Transform};
use krilla::metadata::{DateTime, Metadata};
use krilla::num::NormalizedF32;
use krilla::outline::{Outline, OutlineNode};
use krilla::page::PageSettings;
use krilla::paint::{Fill, FillRule, LineJoin, Pattern, Stroke, StrokeDash};
use krilla::surface::Surface;
use krilla::{Document, SerializeSettings};
use kurbo::PathEl;
use units::Utc;

use crate::seal;
use crate::sheet::picture::{Ink, Label, Pen, Picture, Shape, Tile};
use crate::sheet::{Fonts, Op, PAGE, SIDE, Sheet, WIDTH};

/// How an attached file belongs to the document.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Relation {
    /// The document was made from it.
    Source,
    /// It holds the figures behind what is printed.
    Data,
}

/// A file to attach.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Attachment {
    /// Name.
    pub name: String,
    /// MIME type.
    pub mime: &'static str,
    /// What it is.
    pub description: String,
    /// How it belongs.
    pub relation: Relation,
    /// When it was last changed.
    pub modified_at: Utc,
    /// Its bytes.
    pub bytes: Vec<u8>,
}

/// What the document says of itself.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct About {
    /// Title.
    pub title: String,
    /// One sentence.
    pub subject: String,
    /// A name that stays the same when it is made anew.
    pub id: String,
    /// When it was made.
    pub made_at: Utc,
    /// Left end of every page's foot.
    pub foot: String,
    /// The line under it: the root of the journal.
    pub foot_hash: String,
}

/// Makes the file. It bears a blank seal ([`seal::place`] fills it).
///
/// # Errors
/// What the library says; it refuses to write what is no PDF/A.
pub fn print(
    sheet: Sheet<'_>,
    fonts: &Fonts,
    about: &About,
    attachments: Vec<Attachment>,
) -> Result<Vec<u8>, String> {
    let configuration = ConfigurationBuilder::new()
        .with_archival_validator(Archival::A3_B)
        .finish()
        .map_err(|e| format!("{e:?}"))?;
    let settings = SerializeSettings { configuration, ..SerializeSettings::default() };
    let mut document = Document::new_with(settings);
    let (pages, marks) = sheet.finish();
    let count = pages.len();
    for (n, ops) in pages.iter().enumerate() {
        let size = PageSettings::from_wh(PAGE.0, PAGE.1).ok_or("page size")?;
        let mut page = document.start_page_with(size);
        let mut surface = page.surface();
        for op in ops {
            draw(op, fonts, &mut surface);
        }
        foot(about, n + 1, count, fonts, &mut surface);
        surface.finish();
        page.finish();
    }
    let mut outline = Outline::new();
    for mark in marks {
        let at = XyzDestination::new(mark.page, Point::from_xy(SIDE, mark.y));
        outline.push_child(OutlineNode::new(mark.text, at));
    }
    document.set_outline(outline);
    for a in attachments {
        document.embed_file(embedded(a)).ok_or("two attachments have the same name")?;
    }
    document.set_metadata(
        Metadata::new()
            .title(about.title.clone())
            .description(about.subject.clone())
            .keywords(vec![seal::blank()])
            .creator("Holdfast".to_owned())
            .language("en".to_owned())
            .document_id(about.id.clone())
            .creation_date(date(about.made_at)),
    );
    document.finish().map_err(|e| format!("{e:?}"))
}

fn embedded(a: Attachment) -> EmbeddedFile {
    EmbeddedFile {
        path: a.name,
        mime_type: MimeType::new(a.mime),
        description: Some(a.description),
        association_kind: match a.relation {
            Relation::Source => AssociationKind::Source,
            Relation::Data => AssociationKind::Data,
        },
        data: a.bytes.into(),
        modification_date: Some(date(a.modified_at)),
        compress: Some(true),
        location: None,
    }
}

fn date(at: Utc) -> DateTime {
    let (year, month, day, hour, minute, second) = at.civil();
    let small = |v: i8| u8::try_from(v).unwrap_or(0);
    DateTime::new(u16::try_from(year).unwrap_or(0))
        .month(small(month))
        .day(small(day))
        .hour(small(hour))
        .minute(small(minute))
        .second(small(second))
        .utc_offset_hour(0)
        .utc_offset_minute(0)
}

fn foot(about: &About, n: usize, count: usize, fonts: &Fonts, s: &mut Surface<'_>) {
    let y = PAGE.1 - 42.0;
    rule((SIDE, y - 10.0), (SIDE + WIDTH, y - 10.0), 0.4, s);
    let page = format!("page {n} of {count}");
    let used = fonts.regular.width(&page, 7.6);
    let left = fonts.regular.fitted(&about.foot, 7.6, WIDTH - used - 12.0);
    text(&left, (SIDE, y), 7.6, false, fonts, s);
    text(&page, (SIDE + WIDTH - used, y), 7.6, false, fonts, s);
    text(&about.foot_hash, (SIDE, y + 10.0), 6.2, false, fonts, s);
}

fn draw(op: &Op, fonts: &Fonts, s: &mut Surface<'_>) {
    match op {
        Op::Text { at, size, bold, text: words } => text(words, *at, *size, *bold, fonts, s),
        Op::Rule { from, to, width } => rule(*from, *to, *width, s),
        Op::Picture { at, scale, picture } => {
            s.push_transform(&Transform::from_row(*scale, 0.0, 0.0, *scale, at.0, at.1));
            draw_picture(picture, fonts, s);
            s.pop();
        }
    }
}

fn text(words: &str, at: (f32, f32), size: f32, bold: bool, fonts: &Fonts, s: &mut Surface<'_>) {
    if words.trim().is_empty() {
        return;
    }
    let face = fonts.face(bold);
    let at = Point::from_xy(at.0, at.1);
    s.set_stroke(None);
    s.set_fill(Some(fill(1.0, false)));
    s.draw_glyphs(at, &face.glyphs(words), face.font.clone(), words, size, false);
}

fn rule(from: (f32, f32), to: (f32, f32), width: f32, s: &mut Surface<'_>) {
    let mut path = PathBuilder::new();
    path.move_to(from.0, from.1);
    path.line_to(to.0, to.1);
    if let Some(path) = path.finish() {
        s.set_fill(None);
        s.set_stroke(Some(Stroke { width, ..Stroke::default() }));
        s.draw_path(&path);
    }
}

fn fill(opacity: f32, white: bool) -> Fill {
    Fill {
        paint: luma(white),
        opacity: NormalizedF32::new(opacity).unwrap_or(NormalizedF32::ONE),
        rule: FillRule::NonZero,
    }
}

fn luma(white: bool) -> krilla::paint::Paint {
    krilla::color::luma::Color::new(if white { 255 } else { 0 }).into()
}

fn draw_picture(picture: &Picture, fonts: &Fonts, s: &mut Surface<'_>) {
    let mut open = 0;
    for shape in &picture.shapes {
        match shape {
            Shape::Path(path, pen) => draw_path(path, pen, &picture.tiles, s),
            Shape::Text(label) => draw_label(label, fonts, s),
            Shape::Clip(r) => {
                let sides = (r.x0 as f32, r.y0 as f32, r.x1 as f32, r.y1 as f32);
                if let Some(rect) = Rect::from_ltrb(sides.0, sides.1, sides.2, sides.3) {
                    let mut path = PathBuilder::new();
                    path.push_rect(rect);
                    if let Some(path) = path.finish() {
                        s.push_clip_path(&path, &FillRule::NonZero);
                        open += 1;
                    }
                }
            }
            Shape::EndClip if open > 0 => {
                s.pop();
                open -= 1;
            }
            Shape::EndClip => {}
        }
    }
    for _ in 0..open {
        s.pop();
    }
}

fn draw_path(path: &kurbo::BezPath, pen: &Pen, tiles: &[Tile], s: &mut Surface<'_>) {
    let Some(outline) = outline(path) else { return };
    let filled = match pen.fill {
        Ink::None => None,
        Ink::Black => Some(fill(pen.fill_opacity, false)),
        Ink::White => Some(fill(pen.fill_opacity, true)),
        Ink::Tile(n) => tiles.get(n).map(|tile| hatched(tile, s)),
    };
    let stroked = (pen.stroke != Ink::None && pen.width > 0.0).then(|| Stroke {
        paint: luma(pen.stroke == Ink::White),
        width: pen.width,
        line_join: LineJoin::Round,
        opacity: NormalizedF32::new(pen.stroke_opacity).unwrap_or(NormalizedF32::ONE),
        dash: (!pen.dash.is_empty()).then(|| StrokeDash { array: pen.dash.clone(), offset: 0.0 }),
        ..Stroke::default()
    });
    if filled.is_none() && stroked.is_none() {
        return;
    }
    s.set_fill(filled);
    s.set_stroke(stroked);
    s.draw_path(&outline);
}

/// A hatch as a repeated tile.
fn hatched(tile: &Tile, s: &mut Surface<'_>) -> Fill {
    let mut builder = s.stream_builder();
    let mut inner = builder.surface();
    for shape in &tile.shapes {
        if let Shape::Path(path, pen) = shape {
            // A tile has no tiles of its own.
            draw_path(path, pen, &[], &mut inner);
        }
    }
    inner.finish();
    let pattern = Pattern {
        stream: builder.finish(),
        transform: Transform::identity(),
        width: tile.size.0 as f32,
        height: tile.size.1 as f32,
    };
    Fill { paint: pattern.into(), ..Fill::default() }
}

fn outline(path: &kurbo::BezPath) -> Option<krilla::geom::Path> {
    let mut out = PathBuilder::new();
    let p = |p: kurbo::Point| (p.x as f32, p.y as f32);
    for el in path.elements() {
        match *el {
            PathEl::MoveTo(a) => out.move_to(p(a).0, p(a).1),
            PathEl::LineTo(a) => out.line_to(p(a).0, p(a).1),
            PathEl::QuadTo(a, b) => out.quad_to(p(a).0, p(a).1, p(b).0, p(b).1),
            PathEl::CurveTo(a, b, c) => {
                out.cubic_to(p(a).0, p(a).1, p(b).0, p(b).1, p(c).0, p(c).1);
            }
            PathEl::ClosePath => out.close(),
        }
    }
    out.finish()
}

fn draw_label(label: &Label, fonts: &Fonts, s: &mut Surface<'_>) {
    let face = fonts.face(label.bold);
    let used = face.width(&label.text, label.size);
    let x = label.at.0 as f32 - used * label.anchor;
    let at = Point::from_xy(x, label.at.1 as f32);
    let glyphs = face.glyphs(&label.text);
    if label.halo {
        // Lines behind the words would make them unreadable in print.
        let (top, bottom) = (at.y - label.size * 0.82, at.y + label.size * 0.22);
        if let Some(behind) = Rect::from_ltrb(x - 2.0, top, x + used + 2.0, bottom) {
            let mut path = PathBuilder::new();
            path.push_rect(behind);
            if let Some(path) = path.finish() {
                s.set_stroke(None);
                s.set_fill(Some(fill(0.92, true)));
                s.draw_path(&path);
            }
        }
    }
    s.set_stroke(None);
    s.set_fill(Some(fill(label.opacity, false)));
    s.draw_glyphs(at, &glyphs, face.font.clone(), &label.text, label.size, false);
}
