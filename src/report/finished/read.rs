//! Reads a page for what a browser would show of it.

/// What may stand in a page. Whatever else there is, a browser may hide, or load something for it.
const KNOWN: &str = "a abbr article aside b blockquote body br button caption cite code col colgroup datalist dd del details div dl dt em \
                     fieldset figcaption figure footer form h1 h2 h3 h4 h5 h6 head header hr html i img input ins kbd label \
                     legend li link main mark meta nav ol option p pre q s samp script section select small span strong style \
                     sub summary sup svg table tbody td tfoot th thead time title tr u ul var wbr";

/// What may stand in a drawing. An element of the page would end the drawing in a browser, and what follows it may then be hidden.
const DRAWN: &str = "circle clippath defs desc ellipse g line lineargradient path pattern polygon polyline rect stop svg symbol \
                     text title tspan use";

/// What stands in a line without breaking its words.
const INLINE: &str = "a abbr b cite code del em i ins kbd label mark q s samp small span strong sub sup time u var wbr";

/// What has no end tag.
const VOID: &str = "br col hr img input link meta wbr";

/// What is not shown as text: drawings, what acts, and lists that show one of their lines.
const UNSHOWN: &str = "datalist head script select style svg title";

/// What is a line of its own.
const LINES: &str = "li p tr";

/// Whether a name is one of a list.
fn is_one(name: &str, list: &str) -> bool {
    list.split_ascii_whitespace().any(|own| own == name)
}

/// How a page of the program's begins, tag by tag; the policy comes before anything that could be loaded.
const START: &[&str] = &["!doctype", "html", "head", "meta", "meta", "meta"];

/// Begins what is shown. It stands in a page once, in these letters: the note is put right behind it.
pub(super) const BODY: &str = "<body>";

/// What a page shows.
#[derive(Debug, Default)]
pub(super) struct Read {
    /// All of it, white space folded.
    text: String,
    /// The text of every row, point and paragraph.
    pub(super) lines: Vec<String>,
}

/// Why a page cannot be used.
#[derive(Debug, PartialEq, Eq)]
pub(super) struct Fault {
    pub(super) message: String,
    /// What a template that is at fault would hold.
    pub(super) words: String,
}

fn fault(message: impl Into<String>, words: impl Into<String>) -> Fault {
    Fault { message: message.into(), words: words.into() }
}

/// One tag.
#[derive(Debug, Default)]
struct Tag {
    name: String,
    ends: bool,
    /// Whether it ends itself, as in a drawing it may.
    whole: bool,
    attributes: Vec<(String, String)>,
}

impl Tag {
    fn value(&self, name: &str) -> Option<&str> {
        self.attributes.iter().find(|(own, _)| own == name).map(|(_, value)| value.as_str())
    }
}

/// White space folded into single blanks, what may break a word left out.
pub(super) fn folded(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for word in text.split_whitespace() {
        if !out.is_empty() {
            out.push(' ');
        }
        out.extend(word.chars().filter(|c| *c != '\u{ad}'));
    }
    out
}

impl Read {
    /// Whether it says something, however its lines are broken.
    pub(super) fn says(&self, text: &str) -> bool {
        self.text.contains(&folded(text))
    }

    /// Reads a page that may run and load what `policy` says.
    ///
    /// # Errors
    /// If it does not begin as it must, or holds what may not be in it.
    pub(super) fn of(page: &str, policy: &str) -> Result<Read, Fault> {
        let mut reader = Reader { rest: page, policy, ..Reader::default() };
        while reader.step()? {}
        if reader.bodies != 1 || page.matches(BODY).count() != 1 {
            return Err(fault("a page has one <body>, in small letters and without attributes", "<body"));
        }
        if let Some((name, ..)) = reader.open.last() {
            return Err(fault(format!("<{name}> is not ended"), format!("<{name}")));
        }
        Ok(Read { text: folded(&reader.text), lines: reader.lines })
    }
}

#[derive(Default)]
struct Reader<'a> {
    rest: &'a str,
    policy: &'a str,
    text: String,
    lines: Vec<String>,
    /// What is open: name, where its text begins, whether it is shown.
    open: Vec<(String, usize, bool)>,
    /// How many tags were read, up to those that a page begins with.
    tags: usize,
    bodies: usize,
}

impl Reader<'_> {
    /// Reads one tag, comment or piece of text; false at the end.
    fn step(&mut self) -> Result<bool, Fault> {
        let Some(first) = self.rest.chars().next() else { return Ok(false) };
        if first != '<' {
            let end = self.rest.find('<').unwrap_or(self.rest.len());
            self.words(end);
            return Ok(true);
        }
        if self.rest.starts_with("<!--") {
            self.skip("-->");
            return Ok(true);
        }
        let second = self.rest.chars().nth(1);
        let named = second == Some('/') && self.rest.chars().nth(2).is_some_and(|c| c.is_ascii_alphabetic());
        let kind = self.rest.get(..9).is_some_and(|start| start.eq_ignore_ascii_case("<!doctype"));
        if named || kind || second.is_some_and(|c| c.is_ascii_alphabetic()) {
            self.bodies += usize::from(self.rest.starts_with(BODY));
            let tag = self.tag();
            self.take(tag)?;
        } else if let Some(odd @ ('!' | '?' | '/')) = second {
            // Where that ends depends on where it stands.
            return Err(fault(format!("<{odd} may not stand in a page"), format!("<{odd}")));
        } else {
            self.words(1);
        }
        Ok(true)
    }

    fn skip(&mut self, end: &str) {
        self.rest = self.rest.find(end).map_or("", |at| &self.rest[at + end.len()..]);
    }

    fn words(&mut self, end: usize) {
        let (words, rest) = self.rest.split_at(end);
        if self.is_shown() {
            self.text.push_str(&unescaped(words));
        }
        self.rest = rest;
    }

    fn is_shown(&self) -> bool {
        self.open.last().is_none_or(|(_, _, shown)| *shown)
    }

    /// The tag that comes next, quotes and all.
    fn tag(&mut self) -> Tag {
        let mut tag = Tag::default();
        let mut rest = &self.rest[1..];
        if let Some(after) = rest.strip_prefix('/') {
            (tag.ends, rest) = (true, after);
        }
        let end = rest.find(|c: char| c.is_whitespace() || matches!(c, '/' | '>')).unwrap_or(rest.len());
        tag.name = rest[..end].to_ascii_lowercase();
        rest = &rest[end..];
        loop {
            rest = rest.trim_start_matches(|c: char| c.is_whitespace() || c == '/');
            if rest.is_empty() || rest.starts_with('>') {
                break;
            }
            let end = rest.find(|c: char| c.is_whitespace() || matches!(c, '/' | '>' | '=')).unwrap_or(rest.len());
            // An equals sign that begins a name is part of it.
            let end = end.max(usize::from(rest.starts_with('=')));
            let name = rest[..end].to_ascii_lowercase();
            rest = rest[end..].trim_start();
            let mut value = "";
            if let Some(after) = rest.strip_prefix('=') {
                let after = after.trim_start();
                (value, rest) = match after.chars().next() {
                    Some(quote @ ('"' | '\'')) => after[1..].split_once(quote).unwrap_or((&after[1..], "")),
                    _ => after.split_at(after.find(|c: char| c.is_whitespace() || c == '>').unwrap_or(after.len())),
                };
            }
            tag.attributes.push((name, unescaped(value)));
        }
        let read = &self.rest[..self.rest.len() - rest.len()];
        tag.whole = read.ends_with('/');
        self.rest = rest.strip_prefix('>').unwrap_or(rest);
        tag
    }

    fn take(&mut self, tag: Tag) -> Result<(), Fault> {
        self.begins(&tag)?;
        let name = tag.name.as_str();
        if name == "!doctype" {
            return Ok(());
        }
        let inside_drawing = self.open.iter().any(|(own, ..)| own == "svg");
        // What a drawing says of itself is text, in which browsers read tags otherwise than around it.
        let inside_words = inside_drawing && self.open.last().is_some_and(|(own, ..)| own == "title" || own == "desc");
        let known = if inside_drawing { DRAWN } else { KNOWN };
        if !is_one(name, known) || (inside_words && !tag.ends) {
            return Err(fault(format!("<{name}> may not stand in a page"), format!("<{name}")));
        }
        if tag.ends {
            // Where tags do not nest, browsers mend them in ways of their own, and may hide what stands behind.
            if self.open.last().is_none_or(|(own, ..)| own != name) {
                return Err(fault(format!("</{name}> ends what was not begun last"), format!("</{name}")));
            }
            self.close(self.open.len() - 1);
            self.part(name);
            return Ok(());
        }
        self.may_stand(&tag)?;
        self.part(name);
        if is_one(name, VOID) || inside_drawing && tag.whole {
            return Ok(());
        }
        // Of several with one name, browsers unfold one.
        let folded_up = name == "details" && (tag.value("open").is_none() || tag.value("name").is_some());
        let hidden = ["hidden", "popover"].iter().any(|own| tag.value(own).is_some());
        let hidden = is_one(name, UNSHOWN) || hidden || folded_up;
        let shown = self.is_shown() && !hidden;
        self.open.push((name.to_string(), self.text.len(), shown));
        if matches!(name, "script" | "style" | "title") && !inside_drawing {
            let end = format!("</{name}");
            let at = self.rest.to_ascii_lowercase().find(&end).unwrap_or(self.rest.len());
            self.rest = &self.rest[at..];
        }
        Ok(())
    }

    /// Holds the first tags against those that a page begins with.
    fn begins(&mut self, tag: &Tag) -> Result<(), Fault> {
        let Some(wanted) = START.get(self.tags) else { return Ok(()) };
        self.tags += 1;
        let is_right = match self.tags - 1 {
            3 => tag.value("charset").is_some_and(|own| own.eq_ignore_ascii_case("utf-8")),
            4 => {
                tag.value("http-equiv") == Some("Content-Security-Policy") && tag.value("content") == Some(self.policy)
            }
            5 => {
                tag.value("name") == Some("generator")
                    && tag.value("content").is_some_and(|own| own.starts_with("slipmark "))
            }
            _ => true,
        };
        if tag.name == *wanted && !tag.ends && is_right && self.text.trim().is_empty() {
            return Ok(());
        }
        Err(fault(
            "a page begins with <!DOCTYPE html>, <html>, <head>, the charset, the content policy and the generator, as slipmark's own does",
            "<head",
        ))
    }

    /// Whether the policy leaves a hole that this tag uses.
    fn may_stand(&self, tag: &Tag) -> Result<(), Fault> {
        let no = |what: &str, words: &str| Err(fault(format!("{what} may not stand in a page"), words));
        match tag.name.as_str() {
            "meta"
                if self.tags >= START.len()
                    && tag.value("http-equiv").is_some_and(|own| own != "Content-Security-Policy") =>
            {
                no("<meta http-equiv>", "http-equiv")
            }
            "link" if !(tag.value("rel") == Some("stylesheet") || is_icon_here(tag)) => {
                no("a <link> to anything but a style", "<link")
            }
            "script" if !self.policy.contains("script-src") => no("<script>", "<script"),
            "script" if !self.rest.starts_with("</script>") => no("a script in words", "<script"),
            _ => match tag.attributes.iter().find(|(name, _)| name == "style" || name.starts_with("on")) {
                Some((name, _)) => no(&format!("the attribute `{name}`, which no browser would follow here,"), name),
                None => Ok(()),
            },
        }
    }

    /// Parts what stands on either side of a tag.
    fn part(&mut self, name: &str) {
        if !is_one(name, INLINE) {
            self.text.push(' ');
        }
    }

    /// Closes what is open from a place on.
    fn close(&mut self, at: usize) {
        while self.open.len() > at {
            let Some((name, from, shown)) = self.open.pop() else { return };
            if shown && is_one(&name, LINES) {
                self.lines.push(folded(&self.text[from..]));
            }
        }
    }
}

/// Whether a tag names an icon that stands in it.
fn is_icon_here(tag: &Tag) -> bool {
    tag.value("rel") == Some("icon") && tag.value("href").is_some_and(|href| href.starts_with("data:"))
}

/// Characters as they are shown; an entity that is not known stays as it is written.
fn unescaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut rest = text;
    while let Some(at) = rest.find('&') {
        out.push_str(&rest[..at]);
        rest = &rest[at..];
        let entity = rest.get(1..).and_then(|after| after.split_once(';')).map(|(entity, _)| entity);
        match entity.filter(|entity| entity.len() < 12).and_then(|entity| Some((entity, character(entity)?))) {
            Some((entity, character)) => {
                out.push(character);
                rest = &rest[entity.len() + 2..];
            }
            None => {
                out.push('&');
                rest = &rest[1..];
            }
        }
    }
    out.push_str(rest);
    out
}

fn character(entity: &str) -> Option<char> {
    let number = |digits: &str, base| u32::from_str_radix(digits, base).ok().and_then(char::from_u32);
    match entity {
        "amp" => Some('&'),
        "lt" => Some('<'),
        "gt" => Some('>'),
        "quot" => Some('"'),
        "apos" => Some('\''),
        "nbsp" => Some(' '),
        "shy" => Some('\u{ad}'),
        _ => match entity.strip_prefix('#')?.strip_prefix(['x', 'X']) {
            Some(digits) => number(digits, 16),
            None => number(&entity[1..], 10),
        },
    }
}
