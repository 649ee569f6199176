//! Texts of a schedule file: numbers, what to show of them, slips of the pen.

/// A TOML number without digit separators; exponents stay out.
pub(crate) fn plain_number(written: &str) -> String {
    written.chars().filter(|c| *c != '_').collect()
}

pub(crate) fn shown(text: &str) -> String {
    let one_line: String =
        text.chars().take(40).map(|c| if c.is_control() { ' ' } else { c }).collect();
    if text.chars().count() > 40 { format!("{one_line}…") } else { one_line }
}

/// Edits that lead from one word to the other (Levenshtein).
pub(crate) fn distance(a: &str, b: &str) -> usize {
    let b: Vec<char> = b.chars().collect();
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for (i, ca) in a.chars().enumerate() {
        let mut diagonal = i;
        let mut left = i + 1;
        let mut next = vec![left];
        for (cb, above) in b.iter().zip(row.iter().skip(1)) {
            let here = (diagonal + usize::from(ca != *cb)).min(left + 1).min(above + 1);
            next.push(here);
            diagonal = *above;
            left = here;
        }
        row = next;
    }
    row.last().copied().unwrap_or(usize::MAX)
}
