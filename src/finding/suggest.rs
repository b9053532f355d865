//! The likely intended word.

/// The known word nearest to `word`, when it is near enough to be a slip of the fingers.
///
/// Nearness is the Damerau-Levenshtein distance of the lower-case words, at most a third of the
/// length and at least one; ties go to the word that comes first in the alphabet.
///
/// ```
/// use ohmhound::finding::nearest;
/// assert_eq!(nearest("resistr", ["resistor", "thermistor"]), Some("resistor"));
/// assert_eq!(nearest("xyz", ["resistor"]), None);
/// ```
pub fn nearest<'a>(word: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let folded = word.to_lowercase();
    let length = word.chars().count();
    let allowed = (length / 3).max(1);
    known
        .into_iter()
        // The distance is at least the difference in length, which costs far less to find.
        .filter(|candidate| candidate.chars().count().abs_diff(length) <= allowed)
        .map(|candidate| {
            (strsim::damerau_levenshtein(&folded, &candidate.to_lowercase()), candidate)
        })
        .filter(|&(distance, _)| distance <= allowed)
        .min()
        .map(|(_, candidate)| candidate)
}
