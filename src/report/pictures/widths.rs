//! How wide words come out, so that what has no room is cut before it runs into what stands beside it.

/// Widths of the printing characters of ASCII, from the space on, in thousandths of the size of the letters: those of Helvetica (Adobe's
/// metrics of its core fonts, `Helvetica.afm`), with which Arial and Liberation Sans agree.
const HELVETICA: [u16; 95] = [
    278, 278, 355, 556, 556, 889, 667, 191, 333, 333, 389, 584, 278, 333, 278, 278, 556, 556, 556, 556, 556, 556, 556,
    556, 556, 556, 278, 278, 584, 584, 584, 556, 1015, 667, 667, 722, 722, 667, 611, 778, 722, 278, 500, 667, 556, 833,
    722, 778, 667, 778, 722, 667, 611, 722, 667, 944, 667, 667, 611, 278, 278, 278, 469, 556, 333, 556, 556, 500, 556,
    556, 278, 556, 556, 222, 222, 500, 222, 833, 556, 556, 556, 556, 333, 500, 278, 556, 500, 722, 500, 500, 500, 334,
    260, 334, 584,
];
/// Bold letters are wider by this.
const BOLD: f64 = 1.08;

fn width(character: char) -> f64 {
    let thousandths = u32::from(character).checked_sub(32).and_then(|at| HELVETICA.get(at as usize));
    match thousandths {
        Some(width) => f64::from(*width) / 1000.0,
        None if character == '…' => 1.0,
        None => match unicode_width::UnicodeWidthChar::width(character) {
            Some(0) => 0.0,
            Some(1) | None => 0.6,
            Some(_) => 1.0,
        },
    }
}

/// How wide a text is in letters of a size.
pub(super) fn width_of(text: &str, size: f64, bold: bool) -> f64 {
    text.chars().map(width).sum::<f64>() * size * if bold { BOLD } else { 1.0 }
}

/// As much of a text as there is room for, with an ellipsis where that is not all.
pub(super) fn cut(text: &str, size: f64, bold: bool, room: f64) -> String {
    if width_of(text, size, bold) <= room + 1e-6 {
        return text.to_string();
    }
    let room = room - width_of("…", size, bold) + 1e-6;
    let mut used = 0.0;
    let letters = text.chars().take_while(|letter| {
        used += width(*letter) * size * if bold { BOLD } else { 1.0 };
        used <= room
    });
    let kept: String = letters.collect();
    format!("{}…", kept.trim_end())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_what_has_no_room_is_cut() {
        // 5 × 0.556 of 10 is 27.8.
        assert!((width_of("00000", 10.0, false) - 27.8).abs() < 1e-9);
        assert_eq!(cut("00000", 10.0, false, 27.8), "00000");
        assert_eq!(cut("000000", 10.0, false, 30.0), "000…");
        assert_eq!(cut("a  bcdefgh", 10.0, false, 22.0), "a…");
        assert_eq!(cut("漢字漢字", 10.0, false, 30.0), "漢字…");
        assert_eq!(cut("anything", 10.0, false, 0.0), "…");
    }
}
