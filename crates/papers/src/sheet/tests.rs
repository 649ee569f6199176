//! Nothing runs off the paper, whatever is written.

use super::*;
use proptest::prelude::*;

/// Every line of text lies within the margins, above the foot.
fn on_paper(fonts: &Fonts, pages: &[Vec<Op>]) -> Result<(), TestCaseError> {
    for op in pages.iter().flatten() {
        if let Op::Text { at, size, bold, text } = op {
            let right = at.0 + fonts.face(*bold).width(text, *size);
            prop_assert!(at.0 >= SIDE - 0.5 && right <= SIDE + WIDTH + 0.5, "{text:?} at {at:?}");
            prop_assert!(at.1 > TOP && at.1 <= BOTTOM + 0.5, "{text:?} at {at:?}");
        }
    }
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]
    #[test]
    fn any_text_stays_on_the_paper(
        words in "[\\PC\n]{0,600}",
        cells in proptest::collection::vec(
            proptest::collection::vec("\\PC{0,60}( \\PC{0,12}){0,4}", 0..12), 0..120),
        heads in proptest::collection::vec(">?\\PC{0,24}", 1..12),
        dense in any::<bool>(),
    ) {
        let fonts = Fonts::load().unwrap();
        let mut s = Sheet::new(&fonts);
        s.heading("Heading");
        s.paragraph(&words);
        s.facts(&[("name", words.clone()), ("other", String::new()), ("third", "x".into())]);
        let heads: Vec<&str> = heads.iter().map(String::as_str).collect();
        let mut t = Table::new(&heads);
        t.dense = dense;
        t.rows = cells;
        s.table(&t, "none");
        t.drop_empty_columns();
        s.table(&t, "none");
        s.signature_lines(&[&words]);
        let (pages, _) = s.finish();
        on_paper(&fonts, &pages)?;
    }
}

#[test]
fn a_heading_never_stands_alone_at_the_foot() {
    let fonts = Fonts::load().unwrap();
    for lines in 0..80 {
        let mut s = Sheet::new(&fonts);
        (0..lines).for_each(|_| s.paragraph("a line"));
        s.heading("The heading");
        let mut t = Table::new(&["head", ">figure"]);
        (0..3).for_each(|i| t.row(vec!["cell".into(), format!("{i}")]));
        s.table(&t, "none");
        let (pages, marks) = s.finish();
        let page = &pages[marks[0].page];
        let cells = page.iter().filter(|o| matches!(o, Op::Text { text, .. } if text == "cell"));
        assert!(cells.count() >= 1, "{lines} lines before it");
    }
}

#[test]
fn the_head_of_a_table_stands_on_every_page_and_no_last_row_alone() {
    let fonts = Fonts::load().unwrap();
    for rows in 50..130 {
        let mut s = Sheet::new(&fonts);
        let mut t = Table::new(&["the head"]);
        (0..rows).for_each(|_| t.row(vec!["row".into()]));
        s.table(&t, "none");
        let (pages, _) = s.finish();
        for page in &pages {
            let has = |what: &str| {
                page.iter().filter(|o| matches!(o, Op::Text { text, .. } if text == what)).count()
            };
            assert_eq!(has("the head"), 1);
            assert!(has("row") >= 2, "{rows} rows");
        }
    }
}
