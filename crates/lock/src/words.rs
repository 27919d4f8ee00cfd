//! The words that passphrases are made of.

use crate::passphrase::WORDS_IN_ONE;

/// Words that an eight-year-old can say and spell: things to see and touch, none
/// of which sounds or is spelt much like another. A list of our own.
#[rustfmt::skip]
pub const WORDS: [&str; 256] = [
    "acorn", "alarm", "almond", "anchor", "ankle", "apple", "apron", "arrow", "autumn", "bacon",
    "badge", "ballet", "bamboo", "banana", "barrel", "basket", "beaver", "bicycle", "blanket",
    "bonnet", "bottle", "bracelet", "breakfast", "bridge", "broccoli", "bucket", "buffalo",
    "bumper", "butter", "cabbage", "cactus", "camel", "camera", "canary", "candle", "captain",
    "caravan", "carpet", "carrot", "celery", "cement", "cheese", "cherry", "chestnut",
    "chicken", "chimney", "chocolate", "cinema", "circus", "clarinet", "cloud", "coconut",
    "comet", "compass", "copper", "cottage", "crayon", "cricket", "crocodile", "crystal",
    "cucumber", "cupboard", "curtain", "cushion", "cyclone", "daffodil", "daisy", "dancer",
    "diamond", "dinner", "dinosaur", "dolphin", "dragon", "drummer", "eagle", "elbow",
    "elephant", "emerald", "engine", "envelope", "falcon", "farmer", "feather", "festival",
    "fiddle", "finger", "flamingo", "flannel", "forest", "freckle", "galaxy", "garden",
    "garlic", "giraffe", "goblin", "gondola", "gorilla", "gravel", "guitar", "hammer",
    "hammock", "harvest", "hazel", "hedgehog", "helmet", "hexagon", "holiday", "honey",
    "horizon", "hospital", "iceberg", "igloo", "island", "ivory", "jacket", "jaguar", "jelly",
    "jigsaw", "jungle", "kangaroo", "ketchup", "kettle", "kingdom", "kitchen", "ladder",
    "lantern", "lavender", "lemon", "leopard", "library", "lightning", "lobster", "magnet",
    "mango", "maple", "marble", "market", "meadow", "mermaid", "meteor", "mirror", "monkey",
    "mosaic", "mountain", "muffin", "mushroom", "mustard", "napkin", "necklace", "needle",
    "november", "nutmeg", "oatmeal", "ocean", "octopus", "olive", "onion", "orange", "orchard",
    "ostrich", "otter", "oven", "painter", "pancake", "panda", "parachute", "parsley",
    "pavement", "peanut", "pebble", "pelican", "pencil", "penguin", "pepper", "piano", "picnic",
    "pigeon", "pillow", "pineapple", "pirate", "planet", "pocket", "pony", "poppy", "porridge",
    "potato", "pumpkin", "puppet", "purple", "pyramid", "rabbit", "raccoon", "radio",
    "raincoat", "raspberry", "ribbon", "river", "rooster", "saddle", "salad", "salmon",
    "sapphire", "sausage", "saxophone", "scarecrow", "scissors", "shadow", "shampoo", "silver",
    "skeleton", "slipper", "snowball", "spaghetti", "sparrow", "spider", "spinach", "squirrel",
    "stadium", "summer", "sunflower", "tadpole", "teapot", "telescope", "tennis", "thunder",
    "tiger", "toffee", "tomato", "tortoise", "tractor", "treasure", "trumpet", "tulip",
    "tunnel", "turnip", "turtle", "umbrella", "unicorn", "vanilla", "velvet", "village",
    "violin", "volcano", "waffle", "walnut", "walrus", "waterfall", "whistle", "window",
    "winter", "wizard", "wombat", "yellow", "yogurt", "zebra", "zipper",
];

/// How many passphrases can be made: whoever guesses has to try half of them on average.
pub const PASSPHRASES: u64 = 256 * 255 * 254 * 253;

/// One word for each byte of chance.
pub(crate) fn spoken(chance: [u8; WORDS_IN_ONE]) -> String {
    chance.map(|byte| WORDS[usize::from(byte)]).join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::HashSet;

    #[test]
    fn words_are_short_plain_and_differ() {
        let different: HashSet<_> = WORDS.iter().collect();
        assert_eq!(different.len(), WORDS.len());
        for word in WORDS {
            assert!((4..=9).contains(&word.len()), "{word}");
            assert!(word.bytes().all(|b| b.is_ascii_lowercase()), "{word}");
        }
        assert!(WORDS.is_sorted());
    }

    #[test]
    fn no_two_words_are_one_letter_apart() {
        for (at, one) in WORDS.iter().enumerate() {
            for other in &WORDS[at + 1..] {
                assert!(edits(one, other) > 1, "{one} and {other}");
            }
        }
    }

    #[test]
    fn every_byte_of_chance_counts() {
        assert_eq!(spoken([0, 255, 1, 2]), "acorn zipper alarm almond");
        assert_eq!((WORDS.len(), WORDS_IN_ONE), (256, 4));
    }

    /// Letters to change, add or leave out (Levenshtein's distance).
    fn edits(one: &str, other: &str) -> usize {
        let other: Vec<char> = other.chars().collect();
        let mut row: Vec<usize> = (0..=other.len()).collect();
        for (i, a) in one.chars().enumerate() {
            let mut before = std::mem::replace(&mut row[0], i + 1);
            for (j, b) in other.iter().enumerate() {
                let changed = before + usize::from(a != *b);
                before = row[j + 1];
                row[j + 1] = changed.min(before + 1).min(row[j] + 1);
            }
        }
        row[other.len()]
    }
}
