//! Rust source as words, just far enough to see which paths it names.

/// Something the source names.
#[derive(Debug, PartialEq)]
pub enum Found {
    /// A module of this crate, the first name after `crate`, or where `super` leads; and what of it is named.
    Own {
        line: usize,
        module: String,
        item: Vec<String>,
    },
    /// Any other path: `std::fs::File`, or a single name.
    Path {
        line: usize,
        path: Vec<String>,
        in_test: bool,
    },
    /// `.name()`: a call without arguments.
    Method {
        line: usize,
        name: String,
        in_test: bool,
    },
    /// `name!`
    Macro {
        line: usize,
        name: String,
        in_test: bool,
    },
}

#[derive(Debug, Clone, PartialEq)]
enum Word {
    Name(String),
    /// `::`
    Colons,
    Mark(char),
}

/// Names, `::` and single marks with their lines; comments and characters are left out, a text is one `"`.
fn words(source: &str) -> Vec<(usize, Word)> {
    let text: Vec<char> = source.chars().collect();
    let at = |i: usize| text.get(i).copied().unwrap_or('\0');
    let (mut words, mut i, mut line) = (Vec::new(), 0, 1);
    while i < text.len() {
        let start = i;
        let c = text[i];
        if c == '/' && at(i + 1) == '/' {
            while i < text.len() && text[i] != '\n' {
                i += 1;
            }
        } else if c == '/' && at(i + 1) == '*' {
            let mut depth = 0;
            loop {
                match (at(i), at(i + 1)) {
                    ('/', '*') => (depth, i) = (depth + 1, i + 2),
                    ('*', '/') => (depth, i) = (depth - 1, i + 2),
                    _ => i += 1,
                }
                if depth == 0 || i >= text.len() {
                    break;
                }
            }
        } else if let Some(end) = raw_text_end(&text, i) {
            words.push((line, Word::Mark('"')));
            i = end;
        } else if c == '"' {
            words.push((line, Word::Mark('"')));
            i += 1;
            while i < text.len() && text[i] != '"' {
                i += if text[i] == '\\' { 2 } else { 1 };
            }
            i += 1;
        } else if c == '\'' {
            // A character ('x', '\n', '\u{1F}') or the mark of a lifetime ('a).
            if at(i + 1) == '\\' {
                i += 3;
                while i < text.len() && text[i] != '\'' {
                    i += 1;
                }
                i += 1;
            } else if at(i + 2) == '\'' {
                i += 3;
            } else {
                i += 1;
            }
        } else if c.is_alphabetic() || c == '_' {
            while i < text.len() && (text[i].is_alphanumeric() || text[i] == '_') {
                i += 1;
            }
            words.push((line, Word::Name(text[start..i].iter().collect())));
        } else if c == ':' && at(i + 1) == ':' {
            words.push((line, Word::Colons));
            i += 2;
        } else {
            if !c.is_whitespace() {
                words.push((line, Word::Mark(c)));
            }
            i += 1;
        }
        let end = i.min(text.len());
        line += text[start..end].iter().filter(|c| **c == '\n').count();
    }
    words
}

/// Where a raw text (`r"..."`, `br#"..."#`) that begins at `i` ends.
fn raw_text_end(text: &[char], i: usize) -> Option<usize> {
    if i > 0 && (text[i - 1].is_alphanumeric() || text[i - 1] == '_') {
        return None;
    }
    let mut j = i;
    while j < text.len() && (text[j] == 'b' || text[j] == 'c') {
        j += 1;
    }
    if text.get(j) != Some(&'r') {
        return None;
    }
    j += 1;
    let hashes = text[j..].iter().take_while(|c| **c == '#').count();
    j += hashes;
    if text.get(j) != Some(&'"') {
        return None;
    }
    j += 1;
    while j < text.len() {
        if text[j] == '"' && text[j + 1..].iter().take_while(|c| **c == '#').count() >= hashes {
            return Some(j + 1 + hashes);
        }
        j += 1;
    }
    Some(text.len())
}

/// Everything that `source`, the file of module `module`, names.
pub fn paths_and_calls(source: &str, module: &[String]) -> Vec<Found> {
    let words = words(source);
    let mut reader = Reader {
        words: &words,
        at: 0,
        depth: module.len(),
        braces: Vec::new(),
        test_next: false,
        found: Vec::new(),
    };
    reader.read();
    reader.found
}

struct Reader<'a> {
    words: &'a [(usize, Word)],
    at: usize,
    /// How many modules deep: the file's own path and inline modules.
    depth: usize,
    /// One per open brace: whether it opened a module, and whether it is test code.
    braces: Vec<(bool, bool)>,
    /// The next brace opens test code (`#[cfg(test)]` or `#[test]` stands before it).
    test_next: bool,
    found: Vec<Found>,
}

impl Reader<'_> {
    fn word(&self, ahead: usize) -> Option<&Word> {
        self.words.get(self.at + ahead).map(|(_, word)| word)
    }

    fn is(&self, ahead: usize, mark: char) -> bool {
        self.word(ahead) == Some(&Word::Mark(mark))
    }

    fn name(&self, ahead: usize) -> Option<&str> {
        match self.word(ahead) {
            Some(Word::Name(name)) => Some(name),
            _ => None,
        }
    }

    fn line(&self) -> usize {
        self.words.get(self.at).map_or(0, |(line, _)| *line)
    }

    fn in_test(&self) -> bool {
        self.test_next || self.braces.iter().any(|(_, test)| *test)
    }

    fn read(&mut self) {
        while let Some(word) = self.word(0).cloned() {
            match word {
                Word::Mark('#') if self.is(1, '[') => self.attribute(),
                Word::Mark('{') => self.open(false),
                Word::Mark('}') => {
                    if let Some((true, _)) = self.braces.pop() {
                        self.depth -= 1;
                    }
                    self.at += 1;
                }
                Word::Mark(';') => {
                    self.test_next = false;
                    self.at += 1;
                }
                Word::Mark('.') if self.name(1).is_some() => self.method(),
                Word::Name(name) if name == "mod" && self.name(1).is_some() && self.is(2, '{') => {
                    self.at += 2;
                    self.open(true);
                }
                Word::Name(name) if name == "use" => {
                    self.at += 1;
                    self.tree(&[]);
                }
                Word::Name(name) if self.is(1, '!') && !self.is(2, '=') => {
                    let (line, in_test) = (self.line(), self.in_test());
                    self.found.push(Found::Macro {
                        line,
                        name,
                        in_test,
                    });
                    self.at += 2;
                }
                Word::Name(_) => self.path(),
                _ => self.at += 1,
            }
        }
    }

    fn open(&mut self, module: bool) {
        self.braces.push((module, self.test_next));
        self.depth += usize::from(module);
        self.test_next = false;
        self.at += 1;
    }

    /// `#[...]`: only whether it says `test` matters.
    fn attribute(&mut self) {
        let mut depth = 0;
        while let Some(word) = self.word(0) {
            match word {
                Word::Mark('[') => depth += 1,
                Word::Mark(']') => depth -= 1,
                Word::Name(name) if name == "test" => self.test_next = true,
                _ => {}
            }
            self.at += 1;
            if depth == 0 && self.words[self.at - 1].1 == Word::Mark(']') {
                return;
            }
        }
    }

    fn method(&mut self) {
        let (line, in_test) = (self.line(), self.in_test());
        if let (Some(name), true) = (self.name(1), self.is(2, '(') && self.is(3, ')')) {
            let name = name.to_owned();
            self.found.push(Found::Method {
                line,
                name,
                in_test,
            });
        }
        self.at += 2;
    }

    /// `a::b::c` outside of `use`.
    fn path(&mut self) {
        let line = self.line();
        let mut path = Vec::new();
        while let Some(name) = self.name(0) {
            path.push(name.to_owned());
            self.at += 1;
            if self.word(0) != Some(&Word::Colons) {
                break;
            }
            self.at += 1;
        }
        self.named(line, path);
    }

    /// One branch of a `use` tree, with what stands before it.
    fn tree(&mut self, before: &[String]) {
        let line = self.line();
        let mut path = before.to_vec();
        loop {
            if self.is(0, '{') {
                self.at += 1;
                while !self.is(0, '}') && self.word(0).is_some() {
                    self.tree(&path);
                    while self.is(0, ',') {
                        self.at += 1;
                    }
                }
                self.at += 1;
                return;
            }
            match self.name(0) {
                Some("as") => {
                    self.at += 2;
                    break;
                }
                Some(name) => {
                    path.push(name.to_owned());
                    self.at += 1;
                }
                None if self.word(0) == Some(&Word::Colons) || self.is(0, '*') => self.at += 1,
                None => break,
            }
        }
        self.named(line, path);
    }

    /// Where a whole path leads.
    fn named(&mut self, line: usize, path: Vec<String>) {
        let in_test = self.in_test();
        let supers = path.iter().take_while(|name| *name == "super").count();
        let rooted = path.first().is_some_and(|first| first == "crate") && path.len() > 1;
        if rooted {
            self.found.push(Found::Own {
                line,
                module: path[1].clone(),
                item: path[2..].to_vec(),
            });
        } else if supers > 0 && supers >= self.depth {
            let module = path
                .get(supers)
                .cloned()
                .unwrap_or_else(|| "(the crate root)".to_owned());
            let item = path.get(supers + 1..).unwrap_or_default().to_vec();
            self.found.push(Found::Own { line, module, item });
        } else if supers == 0 {
            self.found.push(Found::Path {
                line,
                path,
                in_test,
            });
        }
    }
}
