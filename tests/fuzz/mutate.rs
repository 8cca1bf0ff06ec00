//! Makes hostile inputs of texts that people write.

/// Where random numbers come from: splitmix64 (Steele, Lea, Flood 2014), so that a run can be repeated anywhere.
pub struct Random(u64);

impl Random {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// A number below `end`, which is not zero.
    fn below(&mut self, end: usize) -> usize {
        let end = end as u64;
        usize::try_from(self.next() % end).expect("below a usize")
    }

    fn pick<'a, T: ?Sized>(&mut self, from: &[&'a T]) -> &'a T {
        from[self.below(from.len())]
    }
}

/// What is put in or put in place of something: signs of the notations, ends of ranges, characters that are wide, invisible or broken.
const WORDS: [&[u8]; 96] = [
    b"",
    b"0",
    b"1",
    b"-1",
    b"9",
    b"1e9",
    b"1e-9",
    b"1e308",
    b"1e-400",
    b"1e99999999999",
    b"0.1",
    b".5",
    b"5.",
    b"1_000",
    b"1,5",
    b"NaN",
    b"inf",
    b"999999999999999999999999",
    b"0.333333333333333333",
    b"(",
    b")",
    b"((((",
    b"))))",
    b"[",
    b"]",
    b"{",
    b"}",
    b"\"",
    b"'",
    b"\\",
    b"`",
    b"```",
    b"```calc\n",
    b"+++",
    b"\n+++\n",
    b"\n",
    b"\r\n",
    b"\r",
    b"\t",
    b" ",
    b"\0",
    b"\x1b[2J",
    b"#",
    b";",
    b",",
    b".",
    b":",
    b"=",
    b"==",
    b"!=",
    b"<",
    b"<=",
    b">",
    b">=",
    b"+",
    b"-",
    b"*",
    b"/",
    b"^",
    b"^-1",
    b"^(1/3)",
    b"%",
    b"~",
    b"|",
    "±".as_bytes(),
    b"+/-",
    "·".as_bytes(),
    "−".as_bytes(),
    "µ".as_bytes(),
    "Ω".as_bytes(),
    "°".as_bytes(),
    "²".as_bytes(),
    "\u{feff}".as_bytes(),
    "\u{202e}".as_bytes(),
    "e\u{301}".as_bytes(),
    "\u{1f9ea}".as_bytes(),
    "中".as_bytes(),
    b"\xff",
    b"\xc3",
    b"\xe2\x82",
    b" degC",
    b" N*m",
    b" MPa gauge",
    b"(k=2)",
    b"(95 %, nu=9)",
    b"(rectangular)",
    b" to ",
    b" and ",
    b" or ",
    b"not ",
    b"if ",
    b" then ",
    b" else ",
    b"sqrt(",
    b"max(",
    b"table(\"t.csv\", ",
];

/// An input is at most so long: what is longer is refused by its length.
const LONGEST: usize = 64 << 10;

/// Changes seeds.
pub struct Mutator {
    seeds: Vec<Vec<u8>>,
    random: Random,
}

impl Mutator {
    pub fn new(seeds: Vec<Vec<u8>>, seed: u64) -> Self {
        assert!(!seeds.is_empty(), "nothing to start from");
        Self { seeds, random: Random(seed) }
    }

    /// The next input.
    pub fn input(&mut self) -> Vec<u8> {
        let mut bytes = self.seed();
        for _ in 0..=self.random.below(6) {
            self.change(&mut bytes);
        }
        bytes.truncate(LONGEST);
        bytes
    }

    fn seed(&mut self) -> Vec<u8> {
        let at = self.random.below(self.seeds.len());
        self.seeds[at].clone()
    }

    /// A part of the text, perhaps an empty one; mostly a short one.
    fn part(&mut self, bytes: &[u8]) -> std::ops::Range<usize> {
        let start = self.random.below(bytes.len() + 1);
        let most = if self.random.below(4) == 0 { bytes.len() } else { 12 };
        let end = (start + self.random.below(most + 1)).min(bytes.len());
        start..end
    }

    fn change(&mut self, bytes: &mut Vec<u8>) {
        let part = self.part(bytes);
        match self.random.below(12) {
            0 => drop(bytes.drain(part)),
            1 | 2 => drop(bytes.splice(part.start..part.start, self.random.pick(&WORDS).iter().copied())),
            3 | 4 => drop(bytes.splice(part, self.random.pick(&WORDS).iter().copied())),
            5 => bytes.iter_mut().skip(part.start).take(1).for_each(|byte| *byte ^= 1 << self.random.below(8)),
            6 => self.digit(bytes),
            7 => {
                let copy = bytes[part.clone()].to_vec();
                bytes.splice(part.end..part.end, copy);
            }
            8 => self.again(bytes, part),
            9 => {
                let other = self.seed();
                let from = self.part(&other);
                bytes.splice(part, other[from].iter().copied());
            }
            10 => {
                let other = self.part(bytes);
                let copy = bytes[other].to_vec();
                bytes.splice(part, copy);
            }
            _ => bytes.truncate(part.start),
        }
    }

    /// Another digit for a digit.
    fn digit(&mut self, bytes: &mut [u8]) {
        let digits: Vec<usize> = (0..bytes.len()).filter(|at| bytes[*at].is_ascii_digit()).collect();
        if !digits.is_empty() {
            let at = digits[self.random.below(digits.len())];
            bytes[at] = b'0' + u8::try_from(self.random.below(10)).expect("a digit");
        }
    }

    /// A part or a word many times: once in a while as often as there is room.
    fn again(&mut self, bytes: &mut Vec<u8>, part: std::ops::Range<usize>) {
        let what =
            if self.random.below(2) == 0 { self.random.pick(&WORDS).to_vec() } else { bytes[part.clone()].to_vec() };
        if what.is_empty() {
            return;
        }
        let times = if self.random.below(20) == 0 { LONGEST / what.len() } else { self.random.below(40) };
        bytes.splice(part.start..part.start, what.repeat(times));
    }
}

/// Each line by itself.
pub fn lines(text: &str) -> Vec<Vec<u8>> {
    text.lines().filter(|line| !line.is_empty()).map(|line| line.as_bytes().to_vec()).collect()
}

#[test]
fn inputs_repeat_and_differ() {
    let make = |seed| {
        let mut mutator = Mutator::new(lines("1.32 ± 0.08 N*m\n20 degC"), seed);
        (0..1000).map(|_| mutator.input()).collect::<Vec<_>>()
    };
    assert_eq!(make(1), make(1));
    assert_ne!(make(1), make(2));
    let inputs = make(3);
    assert!(inputs.iter().any(|input| input.len() > 10_000));
    assert!(inputs.iter().any(|input| std::str::from_utf8(input).is_err()));
    let different: std::collections::BTreeSet<&Vec<u8>> = inputs.iter().collect();
    assert!(different.len() > 800, "{}", different.len());
}
