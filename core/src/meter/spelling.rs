//! The word somebody meant.

/// The known word that differs from `word` by at most two letters, the nearest first.
pub(crate) fn nearest<'w>(word: &str, known: impl Iterator<Item = &'w str>) -> Option<&'w str> {
    known
        .map(|k| (letters_apart(word, k), k))
        .filter(|(apart, k)| *apart <= 2 && *apart < k.len())
        .min()
        .map(|(_, k)| k)
}

/// Letters to add, drop or change to make one word the other.
fn letters_apart(one: &str, other: &str) -> usize {
    let other: Vec<char> = other.chars().collect();
    let mut row: Vec<usize> = (0..=other.len()).collect();
    for (index, letter) in one.chars().enumerate() {
        let mut corner = row[0];
        row[0] = index + 1;
        for (at, candidate) in other.iter().enumerate() {
            let change = corner + usize::from(letter != *candidate);
            corner = row[at + 1];
            row[at + 1] = change.min(row[at] + 1).min(corner + 1);
        }
    }
    row[other.len()]
}
