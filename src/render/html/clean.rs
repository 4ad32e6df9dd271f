//! Takes out of a finished document what no text of a book may bring into it.

/// What stands for a sign that was taken out.
const MISSING: char = '\u{FFFD}';

/// Replaces signs that XML forbids or readers drop, and those that turn the direction of the text behind them beyond
/// their own word: they could hide or reorder what a reader sees.
pub(super) fn clean(text: &str) -> String {
    text.chars()
        .map(|sign| match sign {
            '\n' | '\t' => sign,
            '\r' => ' ',
            _ if sign.is_control() || turns(sign) || is_no_character(sign) => MISSING,
            _ => sign,
        })
        .collect()
}

/// Embeddings, overrides and isolates of bidirectional text (Unicode Standard Annex 9).
fn turns(sign: char) -> bool {
    matches!(sign, '\u{202A}'..='\u{202E}' | '\u{2066}'..='\u{2069}')
}

fn is_no_character(sign: char) -> bool {
    let code = u32::from(sign);
    code & 0xFFFE == 0xFFFE || (0xFDD0..=0xFDEF).contains(&code)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_no_document_may_hold_is_replaced() {
        assert_eq!(clean("a\u{0}b\u{1B}c\rd\n\te"), "a\u{FFFD}b\u{FFFD}c d\n\te");
        assert_eq!(clean("x\u{202E}gnp.exe\u{2069}\u{FFFE}"), "x\u{FFFD}gnp.exe\u{FFFD}\u{FFFD}");
        let kept = "9-1/2\" \u{200F}עברית é 木 😀";
        assert_eq!(clean(kept), kept);
    }
}
