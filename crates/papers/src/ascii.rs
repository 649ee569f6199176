//! Plain text that any teleprinter, mail program or radio operator takes: 7-bit ASCII in lines of
//! a fixed width.

/// Folds text to printable ASCII: accents fall, signs become words, the rest is `?`. Control
/// characters, line ends included, become spaces.
#[must_use]
pub fn fold(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            ' '..='~' => out.push(c),
            c if c.is_control() || c.is_whitespace() => out.push(' '),
            '\u{300}'..='\u{36f}' => {}
            c => out.push_str(plain(c)),
        }
    }
    out
}

/// How a character outside ASCII is written. Degree signs go: a `C` after a figure is enough.
fn plain(c: char) -> &'static str {
    match c {
        '°' => "",
        '·' | '•' => "-",
        '–' | '—' | '−' | '‐' | '‑' => "-",
        '‘' | '’' | '′' | '´' => "'",
        '“' | '”' | '″' | '«' | '»' => "\"",
        '…' => "...",
        '×' => "x",
        '±' => "+/-",
        '≤' => "<=",
        '≥' => ">=",
        '→' => "->",
        'µ' | 'μ' => "u",
        'Δ' => "delta ",
        '₂' => "2",
        '₃' => "3",
        '²' => "2",
        '³' => "3",
        '½' => "1/2",
        'à' | 'á' | 'â' | 'ã' | 'å' | 'ā' | 'ă' | 'ą' => "a",
        'ä' | 'æ' => "ae",
        'À' | 'Á' | 'Â' | 'Ã' | 'Å' | 'Ā' | 'Ą' => "A",
        'Ä' | 'Æ' => "AE",
        'ç' | 'ć' | 'č' => "c",
        'Ç' | 'Ć' | 'Č' => "C",
        'è' | 'é' | 'ê' | 'ë' | 'ē' | 'ę' | 'ě' => "e",
        'È' | 'É' | 'Ê' | 'Ë' | 'Ē' | 'Ę' | 'Ě' => "E",
        'ì' | 'í' | 'î' | 'ï' | 'ı' => "i",
        'Ì' | 'Í' | 'Î' | 'Ï' | 'İ' => "I",
        'ł' => "l",
        'Ł' => "L",
        'ñ' | 'ń' => "n",
        'Ñ' | 'Ń' => "N",
        'ò' | 'ó' | 'ô' | 'õ' | 'ő' => "o",
        'ö' | 'ø' | 'œ' => "oe",
        'Ò' | 'Ó' | 'Ô' | 'Õ' | 'Ő' => "O",
        'Ö' | 'Ø' | 'Œ' => "OE",
        'š' | 'ś' | 'ş' => "s",
        'Š' | 'Ś' | 'Ş' => "S",
        'ß' => "ss",
        'ù' | 'ú' | 'û' | 'ů' | 'ű' => "u",
        'ü' => "ue",
        'Ù' | 'Ú' | 'Û' | 'Ů' | 'Ű' => "U",
        'Ü' => "UE",
        'ý' | 'ÿ' => "y",
        'ž' | 'ź' | 'ż' => "z",
        'Ž' | 'Ź' | 'Ż' => "Z",
        _ => "?",
    }
}

/// Breaks ASCII text into lines of at most `width` characters at spaces; lines after the first
/// begin with `indent` spaces. A word longer than a line is cut.
#[must_use]
pub fn wrap(text: &str, width: usize, indent: usize) -> Vec<String> {
    let (width, indent) = (width.max(2), indent.min(width.max(2) / 2));
    let mut lines: Vec<String> = Vec::new();
    let mut line = String::new();
    for word in text.split_ascii_whitespace() {
        let mut word = word;
        let gap = usize::from(!line.trim_start().is_empty());
        if gap == 1 && line.len() + gap + word.len() > width {
            lines.push(std::mem::replace(&mut line, " ".repeat(indent)));
        } else if gap == 1 {
            line.push(' ');
        }
        while line.len() + word.len() > width {
            let room = width.saturating_sub(line.len()).max(1);
            let (head, tail) = word.split_at_checked(room).unwrap_or((word, ""));
            line.push_str(head);
            lines.push(std::mem::replace(&mut line, " ".repeat(indent)));
            word = tail;
        }
        line.push_str(word);
    }
    if !line.trim_start().is_empty() {
        lines.push(line);
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn signs_become_plain() {
        assert_eq!(fold("−18.0 °C – Señor Müller, CO₂\n"), "-18.0 C - Senor Mueller, CO2 ");
        assert_eq!(fold("漢"), "?");
    }

    #[test]
    fn lines_break_at_spaces_and_go_in() {
        let lines = wrap("one two three four", 9, 2);
        assert_eq!(lines, ["one two", "  three", "  four"]);
        assert_eq!(wrap("abcdefghij", 4, 1), ["abcd", " efg", " hij"]);
        assert!(wrap("   ", 10, 0).is_empty());
    }

    proptest! {
        #[test]
        fn every_text_fits(text in "\\PC{0,200}", width in 2usize..100, indent in 0usize..8) {
            let folded = fold(&text);
            prop_assert!(folded.bytes().all(|b| (0x20..0x7f).contains(&b)));
            for line in wrap(&folded, width, indent) {
                prop_assert!(line.len() <= width, "{line:?}");
            }
            let joined: String = wrap(&folded, width, indent).concat();
            let letters = |t: &str| t.chars().filter(|c| *c != ' ').collect::<String>();
            prop_assert_eq!(letters(&joined), letters(&folded));
        }
    }
}
