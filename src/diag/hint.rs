//! What was probably meant by a name that is not known.

/// Returns a name without case, spaces, `_` and `-`: what two spellings have in common.
#[must_use]
pub fn squashed(name: &str) -> String {
    name.chars()
        .filter(|letter| !letter.is_whitespace() && !matches!(letter, '_' | '-'))
        .flat_map(char::to_lowercase)
        .collect()
}

/// Returns the question after a name that was probably meant.
#[must_use]
pub fn did_you_mean(name: &str) -> String {
    format!("did you mean `{name}`?")
}

/// Longer names were not typed, and comparing them takes the product of their lengths.
const MOST_LETTERS: usize = 200;

/// Returns the candidate that is most like the name, if one is like it: the same but for case, spaces, `_` and `-`, or
/// a third of its letters away at most.
#[must_use]
pub fn nearest<'a>(name: &str, candidates: impl Iterator<Item = &'a str>) -> Option<&'a str> {
    let wanted = squashed(name);
    let length = wanted.chars().count();
    if length > MOST_LETTERS {
        return None;
    }
    let mut best: Option<(usize, &str)> = None;
    for candidate in candidates {
        let key = squashed(candidate);
        if key == wanted {
            return Some(candidate);
        }
        let most = length.min(key.chars().count()).div_ceil(3);
        if key.chars().count().abs_diff(length) > most {
            continue;
        }
        let distance = strsim::osa_distance(&wanted, &key);
        if distance <= most && best.is_none_or(|(least, _)| distance < least) {
            best = Some((distance, candidate));
        }
    }
    best.map(|(_, candidate)| candidate)
}

/// Tells whether a name is another one but for a slip of the fingers: one letter in short names, two in longer ones.
#[must_use]
pub fn is_slip(name: &str, of: &str) -> bool {
    let (name, of) = (squashed(name), squashed(of));
    let length = of.chars().count();
    let most = match length {
        0..=3 => return false,
        4..=5 => 1,
        _ => 2,
    };
    name.chars().count().abs_diff(length) <= most && strsim::osa_distance(&name, &of) <= most
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_slip_is_a_letter_or_two() {
        assert!(is_slip("Quantitty", "quantity"));
        assert!(is_slip("lenght", "length"));
        assert!(is_slip("wiegth", "weight"));
        assert!(!is_slip("rated", "trim"));
        assert!(!is_slip("color", "cover"));
        assert!(!is_slip("uses", "use"));
    }

    #[test]
    fn the_nearest_name_is_found_and_a_far_one_is_not() {
        let names = ["PLY-18", "PLY-12", "stud 2x3", "screw"];
        let near = |name| nearest(name, names.iter().copied());
        assert_eq!(near("PLY18"), Some("PLY-18"));
        assert_eq!(near("STUD_2X3"), Some("stud 2x3"));
        assert_eq!(near("screws"), Some("screw"));
        assert_eq!(near("membrane"), None);
    }
}
