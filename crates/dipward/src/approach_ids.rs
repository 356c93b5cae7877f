//! What approaches are called: port, departure and a letter, in letters that every file system takes.

use std::collections::BTreeSet;

use jiff::Timestamp;

/// Letters of a port's name in an id. File names have 255 on most systems; a table has fewer.
const LONGEST: usize = 60;

/// What the ports of a voyage are called in ids, in their order: lower-case letters and figures of ASCII, with
/// a hyphen for all else. Where names come out equal ("St. Paul", "St Paul"), the later ones have a number.
///
/// # Example
///
/// `["Hobart", "St. Paul", "St Paul"]` are called `["hobart", "st-paul", "st-paul-2"]`.
pub(crate) fn stems<'n>(names: impl Iterator<Item = &'n str>) -> Vec<String> {
    let plain: Vec<String> = names.map(stem).collect();
    let mut taken = BTreeSet::new();
    let free = |plain_stem: &String| {
        if taken.insert(plain_stem.clone()) {
            return plain_stem.clone();
        }
        // A number that no port has by its own name either.
        let numbered = (2..).map(|number: u32| format!("{plain_stem}-{number}"));
        let free = numbered.into_iter().find(|one| !plain.contains(one) && !taken.contains(one));
        let free = free.unwrap_or_else(|| plain_stem.clone());
        taken.insert(free.clone());
        free
    };
    plain.iter().map(free).collect()
}

/// What one name is called.
pub(crate) fn stem(name: &str) -> String {
    let plain: String = name
        .to_lowercase()
        .chars()
        .map(|c| if c.is_ascii_alphanumeric() { c } else { '-' })
        .collect();
    let parts: Vec<&str> = plain.split('-').filter(|part| !part.is_empty()).collect();
    let joined: String = parts.join("-").chars().take(LONGEST).collect();
    let joined = joined.trim_end_matches('-');
    if joined.is_empty() { "port".to_owned() } else { joined.to_owned() }
}

/// "hobart-20270112t06": a port's stem and a departure.
pub(crate) fn departure_id(stem: &str, depart: Timestamp) -> String {
    let time: String = depart.to_string().chars().filter(char::is_ascii_alphanumeric).collect();
    // "20270112T060000Z" to the minute, where the minute says anything.
    let time = if time.get(11..13) == Some("00") { time.get(..11) } else { time.get(..13) };
    format!("{stem}-{}", time.unwrap_or_default().to_ascii_lowercase())
}

/// The letters of a departure's ways: a to z, then aa, ab and so on, so that none is left without.
pub(crate) fn letters() -> impl Iterator<Item = String> {
    (0_usize..).map(|index| {
        let mut letters = Vec::new();
        let mut left = index + 1;
        while left > 0 {
            left -= 1;
            letters.push(char::from(b'a' + (left % 26) as u8));
            left /= 26;
        }
        letters.iter().rev().collect()
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ports_whose_names_come_out_equal_are_told_apart() {
        for (first, second, wanted) in [
            ("St. Paul", "St Paul", ["st-paul", "st-paul-2"]),
            ("Hobart", "hobart", ["hobart", "hobart-2"]),
            ("Port Louis", "Port-Louis", ["port-louis", "port-louis-2"]),
            ("Tromsø", "Troms", ["troms", "troms-2"]),
            ("Kópavogur", "Kòpavogur", ["k-pavogur", "k-pavogur-2"]),
            ("北京", "東京", ["port", "port-2"]),
            ("Bluff", "Bluff!", ["bluff", "bluff-2"]),
        ] {
            assert_eq!(stems([first, second].into_iter()), wanted);
        }
        let five = ["A", "a", "A 2", "a-2", "a"];
        assert_eq!(stems(five.into_iter()), ["a", "a-3", "a-2", "a-2-2", "a-4"]);
        let long = "Llanfair".repeat(20);
        assert_eq!(stems([long.as_str(), &long[..100]].into_iter())[1].len(), LONGEST + 2);
    }

    #[test]
    fn a_departure_is_told_to_the_hour_or_the_minute() {
        let at = |text: &str| text.parse::<Timestamp>().unwrap();
        assert_eq!(departure_id("hobart", at("2027-01-12T06:00Z")), "hobart-20270112t06");
        assert_eq!(departure_id("hobart", at("2027-01-12T06:15Z")), "hobart-20270112t0615");
    }

    #[test]
    fn letters_never_end_and_never_repeat() {
        let some: Vec<String> = letters().take(1000).collect();
        assert_eq!((&*some[0], &*some[25], &*some[26], &*some[52]), ("a", "z", "aa", "ba"));
        assert_eq!((&*some[701], &*some[702]), ("zz", "aaa"));
        assert_eq!(some.iter().collect::<BTreeSet<_>>().len(), 1000);
    }
}
