//! The local pages, as a hostile client meets them: plain TCP against the built program.

use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use crate::support::{TODAY, TestRepo};

/// Nothing here takes this long, whatever else the machine does.
const LONG: Duration = Duration::from_secs(60);

/// Prints what was measured, past the harness, which keeps what passing tests print.
fn figure(text: &str) {
    let _ = writeln!(std::io::stdout().lock(), "\n{text}");
}

/// The program, listening.
struct Viewed<'r> {
    repo: &'r TestRepo,
    child: Child,
    port: u16,
}

impl Drop for Viewed<'_> {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// What came back.
#[derive(Debug)]
struct Answer {
    status: u16,
    head: String,
    body: String,
}

impl Answer {
    #[track_caller]
    fn is(self, status: u16) -> Answer {
        assert_eq!(self.status, status, "{}\n{}", self.head, self.body);
        self
    }

    fn header(&self, name: &str) -> Option<&str> {
        let lines = self.head.lines().filter_map(|line| line.split_once(": "));
        lines.filter(|(own, _)| own.eq_ignore_ascii_case(name)).map(|(_, value)| value).next()
    }
}

impl<'r> Viewed<'r> {
    fn start(repo: &'r TestRepo) -> Viewed<'r> {
        let mut command: Command = repo.program(repo.path(), TODAY, &["view", "--port", "0"]);
        let mut child = command.stdout(Stdio::piped()).stderr(Stdio::null()).spawn().expect("the program runs");
        let mut line = String::new();
        BufReader::new(child.stdout.take().expect("a pipe")).read_line(&mut line).expect("an address");
        let port = line.trim().strip_prefix("http://127.0.0.1:").and_then(|rest| rest.strip_suffix('/'));
        Viewed { repo, child, port: port.and_then(|port| port.parse().ok()).expect("an address") }
    }

    fn connect(&self) -> TcpStream {
        let stream = TcpStream::connect(("127.0.0.1", self.port)).expect("a connection");
        stream.set_read_timeout(Some(LONG)).expect("a limit");
        stream
    }

    /// Sends bytes as they are, and reads to the end.
    fn raw(&self, bytes: &[u8]) -> Answer {
        let mut stream = self.connect();
        // It may answer and close before all of it was sent.
        let _ = stream.write_all(bytes);
        let mut all = Vec::new();
        let _ = stream.read_to_end(&mut all);
        let text = String::from_utf8_lossy(&all).into_owned();
        let (head, body) = text.split_once("\r\n\r\n").unwrap_or((&text, ""));
        let body = body.replace("&#x2f;", "/");
        let status = head.split(' ').nth(1).and_then(|status| status.parse().ok()).unwrap_or(0);
        Answer { status, head: head.to_string(), body }
    }

    fn ask(&self, method: &str, target: &str, headers: &[(&str, &str)]) -> Answer {
        let headers: String = headers.iter().map(|(name, value)| format!("{name}: {value}\r\n")).collect();
        self.raw(format!("{method} {target} HTTP/1.1\r\n{headers}\r\n").as_bytes())
    }

    fn host(&self) -> String {
        format!("127.0.0.1:{}", self.port)
    }

    fn get(&self, target: &str) -> Answer {
        self.ask("GET", target, &[("Host", &self.host())])
    }

    /// Listens for what is new, from now on.
    fn listen(&self, seen: &str) -> BufReader<TcpStream> {
        let mut stream = self.connect();
        let request = format!("GET /-/events?seen={seen} HTTP/1.1\r\nHost: {}\r\n\r\n", self.host());
        stream.write_all(request.as_bytes()).expect("sent");
        let mut reader = BufReader::new(stream);
        until(&mut reader, |line| line == "retry: 1000");
        reader
    }

    fn resident(&self) -> u64 {
        let status = std::fs::read_to_string(format!("/proc/{}/status", self.child.id())).unwrap_or_default();
        let line = status.lines().find_map(|line| line.strip_prefix("VmRSS:")).unwrap_or("0");
        line.split_whitespace().next().and_then(|number| number.parse().ok()).unwrap_or(0)
    }
}

/// Reads lines until one that is wanted.
fn until(reader: &mut BufReader<TcpStream>, wanted: impl Fn(&str) -> bool) -> String {
    loop {
        let mut line = String::new();
        assert!(reader.read_line(&mut line).expect("a line in time") > 0, "the end, and nothing was said");
        if wanted(line.trim_end()) {
            return line.trim_end().to_string();
        }
    }
}

fn seen(page: &str) -> String {
    let number = page.split("name=\"slipmark-seen\" content=\"").nth(1).and_then(|rest| rest.split('"').next());
    number.expect("the page says what it was made from").to_string()
}

#[test]
fn pages_are_there_and_say_what_before_says() {
    let repo = TestRepo::demo();
    let view = Viewed::start(&repo);
    let events = view.get("/").is(200);
    for event in ["leak-check", "cold-shock", "cold-flow", "hot-fire"] {
        assert!(events.body.contains(&format!("href=\"/{event}/\"")), "{}", events.body);
    }
    let before = repo.run(&["before", "hot-fire", "--format", "json"]).ended(1).json();
    let total = before["open_total"].as_u64().expect("a number");
    assert!(events.body.contains(&format!("{total} open")), "{}", events.body);
    let front = view.get("/hot-fire/").is(200);
    assert!(front.body.contains(&format!("{total} open before hot-fire")));
    for row in before["rows"].as_array().expect("rows").iter().filter(|row| row["state"] != "closed") {
        let id = row["requirement"].as_str().expect("an id");
        assert!(row["state"] == "waived" || front.body.contains(&format!(">{id}</a>")), "{id}");
    }
    // Every link of these pages leads to a page.
    let mut links: Vec<String> = Vec::new();
    for (base, page) in [("/", &events.body), ("/hot-fire/", &front.body)] {
        let own = page.split("href=\"").skip(1).filter_map(|rest| rest.split('"').next());
        links.extend(own.filter(|link| !link.starts_with('#') && *link != "data:,").map(|link| {
            match link.strip_prefix("./") {
                Some(rest) => format!("{base}{rest}"),
                None if link.is_empty() => base.to_string(),
                None => link.to_string(),
            }
        }));
    }
    links.sort();
    links.dedup();
    assert!(links.len() > 30, "{links:?}");
    for link in links {
        view.get(link.split('#').next().unwrap_or(&link)).is(200);
    }
    assert_eq!(view.get("/hot-fire").is(308).header("location"), Some("/hot-fire/"));
}

#[test]
fn every_answer_says_what_may_run() {
    let repo = TestRepo::demo();
    let view = Viewed::start(&repo);
    for target in
        ["/", "/hot-fire/", "/hot-fire/requirement/ACT-010", "/hot-fire/nothing", "/-/view.js", "/-/view.css", "/%"]
    {
        let answer = view.get(target);
        let policy = answer.header("content-security-policy").unwrap_or_default();
        assert!(policy.starts_with("default-src 'none'; style-src 'self'; script-src 'self';"), "{target}: {policy}");
        assert!(policy.contains("frame-ancestors 'none'") && !policy.contains("unsafe"), "{policy}");
        for (name, value) in [
            ("x-content-type-options", "nosniff"),
            ("referrer-policy", "no-referrer"),
            ("cache-control", "no-store"),
            ("cross-origin-resource-policy", "same-origin"),
        ] {
            assert_eq!(answer.header(name), Some(value), "{target}");
        }
        // No script, style or handler stands in a page itself.
        for wrong in ["<script>", " style=\"", " onclick=", "<style"] {
            assert!(!answer.body.contains(wrong) || target == "/-/view.js", "{target}: {wrong}");
        }
    }
}

#[test]
fn strangers_are_refused() {
    let repo = TestRepo::demo();
    let view = Viewed::start(&repo);
    let (own, port) = (view.host(), view.port);
    for host in [
        "evil.example",
        "127.0.0.1",
        "localhost",
        "127.0.0.1:1",
        &format!("evil.example:{port}"),
        &format!("[::1]:{port}"),
    ] {
        view.ask("GET", "/", &[("Host", host)]).is(403);
    }
    view.ask("GET", "/", &[]).is(403);
    view.ask("GET", "/", &[("Host", &own), ("Host", "evil.example")]).is(403);
    view.ask("GET", "/", &[("Host", &format!("localhost:{port}"))]).is(200);
    for origin in ["http://evil.example", "null", &format!("https://{own}"), "http://127.0.0.1:1"] {
        view.ask("GET", "/", &[("Host", &own), ("Origin", origin)]).is(403);
    }
    view.ask("GET", "/", &[("Host", &own), ("Origin", &format!("http://{own}"))]).is(200);
    view.ask("GET", &format!("http://{own}/"), &[("Host", &own)]).is(403);
    view.ask("GET", "/-/events", &[("Host", &own), ("Sec-Fetch-Site", "cross-site"), ("Sec-Fetch-Mode", "cors")])
        .is(403);
    for method in ["POST", "PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "SMASH"] {
        let answer = view.ask(method, "/", &[("Host", &own), ("Content-Length", "0")]).is(405);
        assert_eq!(answer.header("allow"), Some("GET, HEAD"));
    }
    let head = view.ask("HEAD", "/", &[("Host", &own)]).is(200);
    assert!(head.body.is_empty() && head.header("content-length").is_some_and(|length| length.len() > 3), "{head:?}");
    assert!(repo.changed().is_empty(), "{:?}", repo.changed());
}

#[test]
fn nothing_outside_the_project_can_be_asked_for() {
    let repo = TestRepo::demo();
    let view = Viewed::start(&repo);
    for target in [
        "/../slipmark.toml",
        "/..%2f..%2fetc/passwd",
        "/%2e%2e/%2e%2e/etc/passwd",
        "/hot-fire/../../etc/passwd",
        "/hot-fire//etc/passwd",
        "/slipmark.toml",
        "/.git/config",
        "/hot-fire/slipmark.toml",
        "/hot-fire/.git/HEAD",
        "/hot-fire/%00",
        "/%",
        "/%zz",
        "/%ff",
        "/hot-fire/requirement/%2e%2e",
        "/hot-fire/matrix?q=%",
        "/-/",
        "/-/nothing",
        "/hot-fire/matrix/",
    ] {
        let answer = view.get(target);
        assert_eq!(answer.status, 404, "{target}: {}", answer.head);
        assert!(!answer.body.contains("root:") && !answer.body.contains("events ="), "{target}");
    }
    // What is no request at all ends the connection, and nothing else.
    for bytes in [
        &b"\0\0\0\0\r\n\r\n"[..],
        b"GET\r\n\r\n",
        b"GET / HTTP/9.9\r\n\r\n",
        b"\x16\x03\x01\x02\0\x01\0",
        b"GET / HTTP/1.1\r\nHost : x\r\n\r\n",
    ] {
        let answer = view.raw(bytes);
        assert!(answer.status == 400 || answer.status == 403 || answer.status == 0, "{answer:?}");
    }
    view.get("/").is(200);
}

#[test]
fn long_heads_many_connections_and_slow_clients_are_bounded() {
    let repo = TestRepo::demo();
    let view = Viewed::start(&repo);
    let long = "x".repeat(200_000);
    for answer in [view.get(&format!("/{long}")), view.ask("GET", "/", &[("Host", &view.host()), ("X", &long)])] {
        assert!(matches!(answer.status, 0 | 400 | 414 | 431), "{}", answer.status);
    }
    let many: String = (0..500).map(|number| format!("X-{number}: y\r\n")).collect();
    let answer = view.raw(format!("GET / HTTP/1.1\r\nHost: {}\r\n{many}\r\n", view.host()).as_bytes());
    assert!(matches!(answer.status, 0 | 431), "{}", answer.status);
    // Connections that send a few bytes and then nothing take up all the room there is; who comes then is told so.
    let mut slow: Vec<TcpStream> = (0..64).map(|_| view.connect()).collect();
    for stream in &mut slow {
        stream.write_all(b"GET / HT").expect("sent");
    }
    std::thread::sleep(Duration::from_millis(300));
    let refused = view.get("/");
    assert!(matches!(refused.status, 503 | 0), "{refused:?}");
    // They are sent away after a while, all by themselves.
    let begun = Instant::now();
    while view.get("/").status != 200 {
        assert!(begun.elapsed() < LONG, "it never answered again");
        std::thread::sleep(Duration::from_millis(200));
    }
    figure(&format!("after slow clients it answered in {} ms", begun.elapsed().as_millis()));
}

#[test]
fn an_edit_is_told_of_and_the_next_page_has_it() {
    let repo = TestRepo::demo();
    let view = Viewed::start(&repo);
    let page = view.get("/hot-fire/requirement/ACT-010").is(200);
    let mut events = view.listen(&seen(&page.body));
    let begun = Instant::now();
    let path = "requirements/actuator/ACT-010.md";
    let text = repo.read(path);
    repo.write(path, &text.replace("title = \"Cold torque margin\"", "title = \"Margin when cold\""));
    until(&mut events, |line| line.starts_with("data: "));
    let took = begun.elapsed();
    figure(&format!("an edit was told of after {} ms", took.as_millis()));
    assert!(took < Duration::from_secs(5));
    let page = view.get("/hot-fire/requirement/ACT-010").is(200);
    assert!(page.body.contains("Margin when cold") && page.body.contains("class=\"draft\""), "{}", page.body);
    // Without listening, and at once: no page is older than the files.
    repo.write(path, &text.replace("title = \"Cold torque margin\"", "title = \"Margin at 95 K\""));
    std::thread::sleep(Duration::from_millis(20));
    assert!(view.get("/hot-fire/requirement/ACT-010").is(200).body.contains("Margin at 95 K"));
    // A new file in a new folder, and a commit.
    repo.write(
        "requirements/new/deep/NEW-1.md",
        "+++\nkind = \"requirement\"\nid = \"NEW-1\"\ntitle = \"New one\"\nsource = \"x\"\n+++\nIt shall be new.\n",
    );
    within(&view, "/hot-fire/requirement/NEW-1", |answer| answer.status == 200);
    repo.commit("Add one");
    let short = &repo.head()[..10];
    within(&view, "/hot-fire/", |answer| answer.body.contains(short));
    // A page that saw something older is told at once.
    let mut late = view.listen("1");
    until(&mut late, |line| line.starts_with("data: "));
    assert!(view.repo.changed().is_empty());
}

/// Asks until an answer is as it should be.
#[track_caller]
fn within(view: &Viewed<'_>, target: &str, wanted: impl Fn(&Answer) -> bool) {
    let begun = Instant::now();
    loop {
        let answer = view.get(target);
        if wanted(&answer) {
            return;
        }
        assert!(begun.elapsed() < LONG, "{target}: {}\n{}", answer.head, answer.body);
        std::thread::sleep(Duration::from_millis(100));
    }
}

#[test]
fn a_project_that_cannot_be_read_says_so_and_nothing_old() {
    let repo = TestRepo::demo();
    let view = Viewed::start(&repo);
    view.get("/hot-fire/").is(200);
    let settings = repo.read("slipmark.toml");
    // Not readable as a whole: what cannot be read is a fault, at its place, at the top.
    repo.write("slipmark.toml", &settings.replacen("name = ", "name == ", 1));
    within(&view, "/", |answer| answer.body.contains("slipmark.toml") && answer.body.contains("slipmark.toml:1:"));
    std::fs::remove_file(repo.path().join("slipmark.toml")).expect("removed");
    within(&view, "/", |answer| answer.status == 500 && answer.body.contains("cannot be read"));
    let page = view.get("/hot-fire/").is(500).body;
    assert!(!page.contains("ACT-010") && page.contains("Nothing is shown of what was read before"), "{page}");
    repo.write("slipmark.toml", &settings);
    within(&view, "/hot-fire/", |answer| answer.status == 200 && answer.body.contains("open before hot-fire"));
}

/// Reading again and again takes no more memory: nothing of an earlier reading stays.
#[cfg(target_os = "linux")]
#[test]
fn memory_does_not_grow_with_readings() {
    let repo = TestRepo::demo();
    let view = Viewed::start(&repo);
    let path = "requirements/actuator/ACT-010.md";
    let text = repo.read(path);
    let read_again = |number: usize| {
        repo.write(path, &text.replace("Cold torque margin", &format!("Cold torque margin {number}")));
        within(&view, "/hot-fire/requirement/ACT-010", |answer| {
            answer.body.contains(&format!("margin {number} \u{2013}"))
        });
    };
    (0..20).for_each(read_again);
    let settled = view.resident();
    (20..60).for_each(read_again);
    let after = view.resident();
    figure(&format!("resident after 20 readings {settled} kB, after 60 {after} kB"));
    assert!(after < settled + 24 * 1024, "{settled} kB, then {after} kB");
}

/// What somebody chose stands in the address, and is all that is listed.
#[test]
fn rows_are_those_that_were_chosen() {
    let repo = TestRepo::demo();
    let view = Viewed::start(&repo);
    let matrix = repo.run(&["matrix", "--format", "json"]).ended(0).json();
    let rows = matrix["rows"].as_array().expect("rows");
    let count = |of: &dyn Fn(&serde_json::Value) -> bool| rows.iter().filter(|row| of(row)).count();
    let said = |query: &str| view.get(&format!("/hot-fire/rows?{query}")).is(200).body;
    let is_said = |query: &str, count: usize| {
        let body = said(query);
        assert!(count > 0 && body.contains(&format!(">{count} of {} rows.", rows.len())), "{query}: {count}\n{body}");
        assert_eq!(body.matches("<td data-label=\"requirement\">").count(), count, "{query}");
    };
    is_said("", rows.len());
    is_said("state=no+evidence", count(&|row| row["state"] == "no evidence"));
    is_said("state=void&state=slipped", count(&|row| row["state"] == "void" || row["state"] == "slipped"));
    is_said("method=test&safety=1", count(&|row| row["method"] == "test" && row["safety"] == true));
    is_said("procedure=TP-03&by=serial&column=criteria&page=7", count(&|row| row["procedure"] == "TP-03"));
    is_said("q=act-010", count(&|row| row["requirement"] == "ACT-010"));
    assert!(said("q=%22%3E%3Cscript%3Ealert(1)").contains("&quot;&gt;&lt;script&gt;alert(1)"));
    assert!(said("method=telepathy").contains("No row is like that"));
    let columns = said("column=owner");
    assert!(columns.contains("<th>owner</th>") && !columns.contains("<th>evidence</th>"));
}

#[test]
fn two_points_are_compared_and_revisions_told() {
    let repo = TestRepo::demo();
    let view = Viewed::start(&repo);
    let form = view.get("/hot-fire/between").is(200).body;
    assert!(form.contains("<option value=\"PDR\">") && form.contains(&repo.head()[..7]), "{form}");
    let page = view.get("/hot-fire/between?from=PDR&to=TRR-1").is(200).body;
    let changes = repo.run(&["changes", "PDR..TRR-1", "--format", "json"]).ended(0).json();
    let all = changes["changes"].as_array().expect("changes");
    assert!(all.len() > 10);
    for change in all {
        let id = change["id"].as_str().expect("an id");
        assert!(page.contains(&format!(">{id}<")), "{id}");
    }
    let wrong = view.get("/hot-fire/between?from=%3Cb%3Enope").is(200).body;
    assert!(wrong.contains("role=\"alert\"") && !wrong.contains("<b>nope"), "{wrong}");
    let history = repo.run(&["history", "ACT-010", "--format", "json"]).ended(0).json();
    let revisions = history["revisions"].as_array().expect("revisions");
    let page = view.get("/hot-fire/revisions/ACT-010").is(200).body;
    for revision in revisions {
        let oid = revision["oid"].as_str().expect("a commit");
        let link = format!("?at={oid}");
        assert!(page.contains(&format!("href=\"{link}\"")), "{link}");
        let one = view.get(&format!("/hot-fire/revisions/ACT-010{link}")).is(200).body;
        assert!(one.contains(&format!("Revision {} ", revision["number"])) && one.matches("<h2>Revision").count() == 1);
    }
    view.get("/hot-fire/revisions/ACT-010?at=0000").is(404);
    view.get("/hot-fire/revisions/MOV").is(404);
    assert!(view.get("/hot-fire/keys").is(200).body.contains("<kbd>?</kbd>"));
}

/// What is taken over from reading to reading changes no answer: after every edit all is said as a program says it that was just started.
#[test]
fn one_reading_after_another_says_what_a_first_one_says() {
    let repo = TestRepo::demo();
    let view = Viewed::start(&repo);
    let requirement = "requirements/actuator/ACT-010.md";
    let text = repo.read(requirement);
    let new = "+++\nkind = \"requirement\"\nid = \"AAA-1\"\ntitle = \"First of all\"\nsource = \"x\"\n+++\nIt shall be first.\n";
    let edits: &[&dyn Fn()] = &[
        &|| repo.write(requirement, &text.replace("Cold torque margin", "Cold torque spared")),
        &|| repo.write(requirement, &text.replace("min = 0.5", "min = 0.9")),
        // Every file after it has another number than before.
        &|| repo.write("aaa/AAA-1.md", new),
        &|| repo.write(requirement, &text.replace("+++\n", "+++\nbroken\n")),
        &|| repo.replace("parameters.toml", "value = \"4.0", "value = \"4.4"),
        &|| std::fs::remove_file(repo.path().join("aaa/AAA-1.md")).expect("removed"),
        &|| repo.commit("Leave it broken"),
        &|| repo.write(requirement, &text),
        &|| repo.replace("records/TR-006.md", "status = \"signed\"", "status = \"draft\""),
        &|| drop(repo.git(&["checkout", "-q", "."])),
        &|| drop(repo.git(&["reset", "-q", "--hard", "HEAD~1"])),
    ];
    for (at, edit) in edits.iter().enumerate() {
        edit();
        let fresh = Viewed::start(&repo);
        for page in [
            "/",
            "/hot-fire/",
            "/hot-fire/all",
            "/hot-fire/matrix",
            "/hot-fire/requirement/ACT-010",
            "/hot-fire/changes",
        ] {
            let wanted = unnumbered(&fresh.get(page));
            within(&view, page, |answer| unnumbered(answer) == wanted);
        }
        assert!(at > 0 || view.get("/").body.contains("not committed"));
    }
}

/// An answer without the number of the reading that it was made from.
fn unnumbered(answer: &Answer) -> (u16, String) {
    let number = match answer.body.contains("slipmark-seen") {
        true => seen(&answer.body),
        false => String::new(),
    };
    (answer.status, answer.body.replace(&format!("slipmark-seen\" content=\"{number}\""), ""))
}

/// History is worked out for the pages that tell it, and is what the packet tells.
#[test]
fn pages_tell_the_history_that_is_theirs() {
    let repo = TestRepo::demo();
    let view = Viewed::start(&repo);
    repo.run(&["packet", "hot-fire", "--site", "../site"]).ended(0);
    let in_folder = |name: &str| repo.read(&format!("../site/{name}.html")).replace("&#x2f;", "/");
    let oids = |page: &str| page.matches("<span class=\"number\">").count();
    let (own, other) = (view.get("/hot-fire/requirement/ACT-010").is(200).body, in_folder("requirement/ACT-010"));
    assert!(oids(&own) > 0 && oids(&own) == oids(&other), "{own}");
    let changes = view.get("/hot-fire/changes").is(200).body;
    let since = repo.run(&["changes", "TRR-1", "--format", "json"]).ended(0).json();
    let all = since["changes"].as_array().expect("changes");
    assert!(!all.is_empty() && all.iter().all(|own| changes.contains(own["id"].as_str().expect("an id"))), "{changes}");
}

#[test]
fn other_values_of_a_calculation_are_no_evidence_and_change_nothing() {
    let repo = TestRepo::demo();
    let view = Viewed::start(&repo);
    let said = |query: &str| view.get(&format!("/hot-fire/record/AN-004{query}")).is(200).body;
    let recorded = said("");
    assert!(recorded.contains("name=\"d\"") && !recorded.contains("what if, no evidence"), "{recorded}");
    let supposed = repo.run(&["calc", "AN-004", "--what-if", "d=1.2 ± 0.03 mm", "--format", "json"]).ended(0).json();
    let (now, then) = (said("?d=1.2"), supposed["verdicts"][0]["margin"].as_str().expect("a margin").to_string());
    assert!(now.contains("what if, no evidence") && now.contains(&then) && !recorded.contains(&then), "{then}\n{now}");
    // The same quantity in full; the recorded one; what is of the wrong kind; and what is no quantity, or of no input.
    assert!(said("?d=0.12+cm+%C2%B1+0.03+mm").contains(&then));
    assert!(said("?d=1200+um+%C2%B1+30+um").contains(&then));
    assert_eq!(said("?d=1.50&cd=").matches("what if, no evidence").count(), 0);
    let mass = said("?d=3+kg");
    assert!(mass.contains("cannot be judged") && !mass.contains(&then), "{mass}");
    for wrong in ["?d=%3Cb%3Ewide", "?nothing=3"] {
        let page = said(wrong);
        assert!(page.contains("class=\"failed\"") && !page.contains("<b>wide"), "{wrong}: {page}");
    }
    assert!(!view.get("/hot-fire/record/TR-006").is(200).body.contains("id=\"what-if\""));
    assert!(repo.changed().is_empty());
}

#[test]
fn the_search_answers_what_was_asked() {
    let repo = TestRepo::demo();
    let view = Viewed::start(&repo);
    let found = |words: &str| view.get(&format!("/hot-fire/search?q={words}")).is(200).body;
    let first = |page: &str| {
        page.split("<ol id=\"found\"").nth(1).and_then(|rest| rest.split("<li>").nth(1).map(str::to_string))
    };
    assert!(first(&found("act-010")).is_some_and(|own| own.contains(">ACT-010<")));
    assert!(first(&found("ACT-W/SN02")).is_some_and(|own| own.contains(">ACT-W/SN02<")));
    assert!(first(&found("cold+TORQUE")).is_some_and(|own| own.contains("orque")));
    let none = found("%3Cscript%3E+nowhere");
    assert!(
        first(&none).is_none() && none.contains("Nothing has all of these words") && !none.contains("<script> "),
        "{none}"
    );
    assert!(first(&found("")).is_none());
    view.get("/hot-fire/words.js").is(404);
}

#[test]
fn without_a_project_nothing_listens() {
    let repo = TestRepo::folder();
    assert!(repo.run(&["view"]).ended(2).err.contains("error"));
    let demo = TestRepo::demo();
    let view = Viewed::start(&demo);
    let port = view.port.to_string();
    assert!(demo.run(&["view", "--port", &port]).ended(2).err.contains("cannot listen on port"));
}

#[test]
fn pages_are_set_with_templates_of_the_project_and_a_broken_one_is_told_with_its_place() {
    let repo = TestRepo::demo();
    let ours = repo.run(&["templates", "pages/frame.html"]).ended(0).out;
    repo.replace("slipmark.toml", "name = \"Marram Point\"\n", "name = \"Marram Point\"\ntemplates = \"letterhead\"\n");
    repo.write("letterhead/pages/frame.html", &ours.replace("<main id", "<p>Ours</p>\n<main id"));
    let viewed = Viewed::start(&repo);
    // The system tells of a change when it gets to it.
    let failed = |address: &str, why: &str| {
        within(&viewed, address, |answer| answer.status == 500 && answer.body.replace("<wbr>", "").contains(why));
        viewed.get(address).is(500).body.replace("<wbr>", "")
    };
    let page = viewed.get("/hot-fire/").is(200).body;
    assert!(page.contains("<p>Ours</p>") && page.contains("<b>15 open before hot-fire."), "{page}");
    let others = [
        "requirement/ACT-010",
        "record/TR-006",
        "rows",
        "between?from=PDR&to=HEAD",
        "keys",
        "search",
        "matrix",
        "all",
        "revisions/ACT-010",
    ];
    for address in others {
        let page = viewed.get(&format!("/hot-fire/{address}")).is(200).body;
        assert!(page.contains("<p>Ours</p>") && page.contains("<b>15 open before hot-fire."), "{address}");
    }
    // What follows the files may not be left out.
    repo.write("letterhead/pages/frame.html", &ours.replace("{% include \"live/head.html\" %}", ""));
    failed("/hot-fire/", "a live page includes");
    repo.write("letterhead/pages/frame.html", "<p>\n{{ no_such }}</p>\n");
    let page = failed("/hot-fire/", "letterhead/pages/frame.html:2:4: undefined value");
    assert!(page.contains("slipmark-seen"), "{page}");
    assert!(page.contains("<b>Do:</b> correct it;") && !page.contains("<p>Ours</p>"), "{page}");
    repo.write("letterhead/pages/frame.html", "{% if %}");
    failed("/hot-fire/matrix", "letterhead/pages/frame.html:1:");
    viewed.get("/").is(200);
    std::fs::remove_file(repo.path().join("letterhead/pages/frame.html")).expect("it goes");
    within(&viewed, "/hot-fire/", |answer| answer.status == 200 && !answer.body.contains("slipmark-set"));
}
