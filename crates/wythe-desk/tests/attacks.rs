//! Each attack the desk has to withstand, against the running server.

use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::path::PathBuf;
use std::sync::mpsc;
use std::time::Duration;

struct Running {
    host: String,
    key: String,
    folder: PathBuf,
}

fn started(name: &str) -> Running {
    let folder = std::env::temp_dir().join(format!("wythe-attack-{name}-{}", std::process::id()));
    let _ = std::fs::remove_dir_all(&folder);
    std::fs::create_dir_all(&folder).unwrap();
    std::fs::write(folder.join("wythe.toml"), wythe_project::template()).unwrap();
    let (sender, receiver) = mpsc::channel();
    let options =
        wythe_desk::Options { folder: Some(folder.clone()), ..wythe_desk::Options::default() };
    std::thread::spawn(move || {
        wythe_desk::serve(&options, |s| sender.send(s.address.clone()).unwrap())
    });
    let address = receiver.recv_timeout(Duration::from_secs(20)).unwrap();
    let rest = address.strip_prefix("http://").unwrap();
    let (host, key) = rest.split_once("/?key=").unwrap();
    Running { host: host.to_owned(), key: key.to_owned(), folder }
}

impl Running {
    fn cookie(&self) -> String {
        let port = self.host.rsplit(':').next().unwrap();
        format!("cookie: wythe_desk_{port}={}", self.key)
    }

    /// Status line, headers and body of an answer, with exactly these lines sent.
    fn ask(&self, first: &str, lines: &[&str], body: &str) -> (u16, String) {
        let mut line = TcpStream::connect(&self.host).unwrap();
        line.set_read_timeout(Some(Duration::from_secs(20))).unwrap();
        let mut text = format!("{first} HTTP/1.1\r\nconnection: close\r\n");
        for l in lines {
            text.push_str(l);
            text.push_str("\r\n");
        }
        text.push_str(&format!("content-length: {}\r\n\r\n{body}", body.len()));
        line.write_all(text.as_bytes()).unwrap();
        let mut reader = BufReader::new(line);
        let mut status = String::new();
        reader.read_line(&mut status).unwrap();
        let mut rest = Vec::new();
        let _ = reader.read_to_end(&mut rest);
        let code = status.split(' ').nth(1).and_then(|c| c.parse().ok()).unwrap_or(0);
        (code, String::from_utf8_lossy(&rest).into_owned())
    }

    fn get(&self, path: &str) -> (u16, String) {
        let host = format!("host: {}", self.host);
        self.ask(&format!("GET {path}"), &[&host, &self.cookie()], "")
    }

    fn post(&self, path: &str, body: &str) -> (u16, String) {
        let (host, origin) =
            (format!("host: {}", self.host), format!("origin: http://{}", self.host));
        let form = "content-type: application/x-www-form-urlencoded";
        self.ask(&format!("POST {path}"), &[&host, &origin, &self.cookie(), form], body)
    }
}

#[test]
fn only_the_owner_of_the_key_and_only_under_its_own_name() {
    let desk = started("key");
    let host = format!("host: {}", desk.host);
    assert_eq!(desk.get("/house").0, 200);
    assert_eq!(desk.ask("GET /house", &[&host], "").0, 403, "no key");
    assert_eq!(desk.ask("GET /?key=0123456789abcdef0123456789abcdef", &[&host], "").0, 403);
    assert_eq!(desk.ask("GET /assets/desk.js", &[&host], "").0, 403);
    let rebound = desk.ask("GET /house", &["host: evil.example", &desk.cookie()], "");
    assert_eq!(rebound.0, 421, "a name rebound to this machine");
    let (code, head) = desk.ask(&format!("GET /?key={}", desk.key), &[&host], "");
    assert!(code == 303 && head.to_lowercase().contains("httponly; samesite=strict"), "{head}");
}

#[test]
fn another_site_cannot_change_anything() {
    let desk = started("origin");
    let before = std::fs::read_to_string(desk.folder.join("wythe.toml")).unwrap();
    let host = format!("host: {}", desk.host);
    let form = "content-type: application/x-www-form-urlencoded";
    for origin in ["origin: http://evil.example", "origin: null", "x: y"] {
        for path in ["/edit", "/undo", "/start/open", "/job/begin", "/try", "/sheet"] {
            let got = desk.ask(
                &format!("POST {path}"),
                &[&host, origin, &desk.cookie(), form],
                "do=text&value=x",
            );
            assert_eq!(got.0, 403, "{origin} {path}");
        }
        let got = desk.ask("PUT /upload/x.wav", &[&host, origin, &desk.cookie()], "RIFF");
        assert_eq!(got.0, 403);
        let got = desk.ask("PUT /tracing/x.png", &[&host, origin, &desk.cookie()], "\u{89}PNG");
        assert_eq!(got.0, 403);
    }
    assert_eq!(std::fs::read_to_string(desk.folder.join("wythe.toml")).unwrap(), before);
    assert!(!desk.folder.join("recordings").exists());
    assert!(!desk.folder.join("drawings").exists());
}

#[test]
fn every_answer_says_what_a_page_may_do() {
    let desk = started("policy");
    for path in ["/house", "/file", "/assets/desk.js", "/nothing", "/start"] {
        let head = desk.get(path).1.to_lowercase();
        assert!(
            head.contains("content-security-policy: default-src 'none'; script-src 'self'"),
            "{path}"
        );
        assert!(head.contains("x-content-type-options: nosniff"), "{path}");
        assert!(!head.contains("unsafe-"), "{path}");
    }
    let page = desk.get("/house").1;
    assert!(
        !page.contains("<script>") && !page.contains(" style=\"") && !page.contains(" onclick")
    );
}

#[test]
fn no_address_reaches_a_file_outside() {
    let desk = started("paths");
    std::fs::write(desk.folder.join("..").join("wythe-outside.html"), "outside").unwrap();
    for path in [
        "/report/..%2f..%2fwythe-outside.html",
        "/report/%2fetc%2fpasswd.html",
        "/assets/..%2f..%2fCargo.toml",
        "/assets/%2e%2e/desk.css",
        "/../wythe-outside.html",
        "/recordings?n=../../x",
    ] {
        let (code, body) = desk.get(path);
        assert!(!body.contains("outside") && !body.contains("root:"), "{path} {code}");
        assert!(code == 404 || code == 200 && path.starts_with("/recordings"), "{path} {code}");
    }
    let host = format!("host: {}", desk.host);
    let origin = format!("origin: http://{}", desk.host);
    for name in ["..%2fx.wav", "%2ftmp%2fx.wav", "x.toml", "..%5cx.wav", "wythe.toml", "x%00.wav"] {
        let got =
            desk.ask(&format!("PUT /upload/{name}"), &[&host, &origin, &desk.cookie()], "RIFF");
        assert!(matches!(got.0, 400 | 404 | 422), "{name} {}", got.0);
    }
    let survey = "do=describe-recording&file=survey&like=hall&value=../../../etc/passwd";
    assert_eq!(desk.post("/edit", survey).0, 422);
    // A picture of the plan that lies elsewhere.
    for file in ["../wythe-outside.html", "/etc/passwd", "drawings/../../wythe-outside.html"] {
        let (code, said) = desk.post("/edit", &format!("do=new-tracing&storey=0&value={file}"));
        assert_eq!(code, 422, "{file}: {said}");
        assert_eq!(desk.get("/tracing/0").0, 404);
    }
    let got =
        desk.ask("PUT /tracing/..%2fx.png", &[&host, &origin, &desk.cookie()], "<svg onload=x>");
    assert_eq!(got.0, 422);
    assert!(!desk.folder.join("..").join("x.png").exists());
}

#[test]
fn what_is_typed_stays_text() {
    let desk = started("text");
    let title = "%3Cscript%3Ealert(1)%3C%2Fscript%3E%22%20%26";
    // The fingerprint of what stands there is on the page of the file; here the title of nothing.
    let page = desk.get("/file").1;
    let seen = page.split("name=\"seen\" value=\"").nth(1).unwrap().split('"').next().unwrap();
    let text = format!("wythe%20%3D%201%0Atitle%20%3D%20'{}'%0A", title.replace("%22", ""));
    let (code, said) =
        desk.post("/edit", &format!("do=text&seen={seen}&value={text}&called=x&back=/file"));
    assert_eq!(code, 303, "{said}");
    let page = desk.get("/file").1;
    assert!(!page.contains("<script>alert") && page.contains("&lt;script&gt;alert"), "{page}");
}

#[test]
fn a_form_leads_back_only_to_the_desk() {
    let desk = started("back");
    for back in ["http://evil.example/", "//evil.example", "/\\evil.example", "/house%0d%0ax:%20y"]
    {
        let (code, head) = desk.post("/job/stop", &format!("back={back}"));
        assert_eq!(code, 303);
        let place = head.lines().find(|l| l.to_lowercase().starts_with("location")).unwrap();
        assert!(place.trim_end().ends_with(" /house"), "{back}: {place}");
    }
}

#[test]
fn a_flood_is_refused() {
    let desk = started("flood");
    let host = format!("host: {}", desk.host);
    let origin = format!("origin: http://{}", desk.host);
    let mut line = TcpStream::connect(&desk.host).unwrap();
    let head = format!(
        "POST /edit HTTP/1.1\r\n{host}\r\n{origin}\r\n{}\r\ncontent-type: \
         application/x-www-form-urlencoded\r\ncontent-length: 99999999999\r\n\r\ndo=text",
        desk.cookie()
    );
    line.write_all(head.as_bytes()).unwrap();
    line.set_read_timeout(Some(Duration::from_secs(20))).unwrap();
    let mut first = String::new();
    BufReader::new(line).read_line(&mut first).unwrap();
    assert!(first.contains("413"), "{first}");
    assert_eq!(desk.get("/house").0, 200, "the desk goes on");
}

struct Shared {
    desk: Running,
    phones: String,
    code: String,
}

fn shared(name: &str) -> Shared {
    let folder = std::env::temp_dir().join(format!("wythe-share-{name}-{}", std::process::id()));
    let _ = std::fs::remove_dir_all(&folder);
    std::fs::create_dir_all(&folder).unwrap();
    std::fs::write(folder.join("wythe.toml"), wythe_project::template()).unwrap();
    let (sender, receiver) = mpsc::channel();
    let options = wythe_desk::Options {
        folder: Some(folder.clone()),
        port: 0,
        share: Some("127.0.0.1".into()),
    };
    std::thread::spawn(move || wythe_desk::serve(&options, |s| sender.send(s.clone()).unwrap()));
    let started = receiver.recv_timeout(Duration::from_secs(20)).unwrap();
    let rest = started.address.strip_prefix("http://").unwrap();
    let (host, key) = rest.split_once("/?key=").unwrap();
    let (address, code) = started.share.unwrap();
    Shared {
        desk: Running { host: host.to_owned(), key: key.to_owned(), folder },
        phones: address.trim_start_matches("http://").trim_end_matches('/').to_owned(),
        code,
    }
}

const FORM: &str = "content-type: application/x-www-form-urlencoded";

impl Shared {
    /// The door of the phones, spoken to as the desk is.
    fn door(&self) -> Running {
        let desk = &self.desk;
        Running { host: self.phones.clone(), key: desk.key.clone(), folder: desk.folder.clone() }
    }

    fn phone_cookie(&self, token: &str) -> String {
        format!("cookie: wythe_phone_{}={token}", self.phones.rsplit(':').next().unwrap())
    }

    fn ask(&self, first: &str, cookie: &str, body: &str) -> (u16, String) {
        let (host, origin) =
            (format!("host: {}", self.phones), format!("origin: http://{}", self.phones));
        self.door().ask(first, &[&host, &origin, cookie, FORM], body)
    }

    fn pair(&self, code: &str) -> (u16, String) {
        // Tries that come faster are not looked at.
        std::thread::sleep(Duration::from_millis(750));
        self.ask("POST /pair", "x: y", &format!("code={code}&name=pocket"))
    }

    fn paired(&self) -> String {
        let (code, head) = self.pair(&self.code);
        assert_eq!(code, 303, "{head}");
        let low = head.to_lowercase();
        assert!(low.contains("httponly; samesite=strict"), "{head}");
        let line = low.lines().find(|l| l.starts_with("set-cookie")).unwrap();
        line.split('=').nth(1).unwrap().split(';').next().unwrap().to_owned()
    }

    /// The code the desk shows now.
    fn shown(&self) -> Option<String> {
        let page = self.desk.get("/phone").1;
        let digits = page.split("class=\"digits\">").nth(1)?.split('<').next()?;
        Some(digits.chars().filter(char::is_ascii_digit).collect())
    }

    fn wrong(&self) -> String {
        format!("{:06}", (self.code.parse::<u32>().unwrap() + 1) % 1_000_000)
    }
}

#[test]
fn a_phone_gets_the_phone_page_and_nothing_else() {
    let shared = shared("alone");
    let (code, page) = shared.ask("GET /", "x: y", "");
    assert!(code == 200 && page.contains("Pair this phone"), "{page}");
    assert!(!page.contains("Plan"), "the project is not shown before");
    let token = shared.paired();
    let cookie = shared.phone_cookie(&token);
    let (code, page) = shared.ask("GET /", &cookie, "");
    assert!(code == 200 && page.contains("What to do next") && page.contains("Plan"), "{page}");
    assert!(page.contains("content-security-policy: default-src 'none'; script-src 'self'"));
    // Nothing of the desk is behind the phones' door, with either key.
    for path in [
        "/house",
        "/file",
        "/report",
        "/recordings",
        "/events",
        "/start",
        "/phone",
        "/keys",
        "/report/owner.html",
        "/wythe.toml",
        "/assets/desk.js",
        "/assets/edit.js",
        "/sound/0",
        "/assets/..%2fdesk.js",
        "/../wythe.toml",
        "/%2e%2e/wythe.toml",
        "/assets/%2fetc%2fpasswd",
    ] {
        for cookie in [&cookie, &shared.desk.cookie()] {
            let (code, body) = shared.ask(&format!("GET {path}"), cookie, "");
            assert!(matches!(code, 403 | 404), "{path} {code}");
            assert!(!body.contains("[[room]]"), "{path}");
        }
    }
    for path in ["/edit", "/undo", "/start/open", "/job/begin", "/share/code", "/try", "/prepare"] {
        let (code, _) = shared.ask(&format!("POST {path}"), &cookie, "do=text&value=x&id=1");
        assert_eq!(code, 404, "{path}");
    }
    let (code, _) = shared.ask("PUT /upload/x.wav", &cookie, "RIFF");
    assert_eq!(code, 404);
    // Nor does the phone's token open the desk, under its own cookie's name or the desk's.
    let host = format!("host: {}", shared.desk.host);
    let port = shared.desk.host.rsplit(':').next().unwrap();
    for cookie in [cookie.clone(), format!("cookie: wythe_desk_{port}={token}")] {
        assert_eq!(shared.desk.ask("GET /house", &[&host, &cookie], "").0, 403);
        assert_eq!(shared.desk.ask(&format!("GET /?key={token}"), &[&host, &cookie], "").0, 403);
    }
}

#[test]
fn wrong_codes_and_guessing_let_nobody_in() {
    let shared = shared("guess");
    for bad in ["", "12345", "1234567890", "abcdef", "%00%00%00%00%00%00", &shared.wrong()] {
        let (code, body) = shared.pair(bad);
        assert!(code == 403 && !body.to_lowercase().contains("set-cookie"), "{bad} {code}");
    }
    assert_eq!(shared.shown(), None, "the code died at the fifth try");
    assert_eq!(shared.pair(&shared.code).0, 403, "and the right one is too late");
    // A flood of tries is answered without being looked at.
    let (code, _) = shared.desk.post("/share/code", "");
    assert_eq!(code, 303);
    let fresh = shared.shown().unwrap();
    std::thread::sleep(Duration::from_millis(750));
    let codes: Vec<u16> = (0..6).map(|_| shared.ask("POST /pair", "x: y", "code=000").0).collect();
    assert!(codes[1..].iter().filter(|c| **c == 429).count() >= 3, "{codes:?}");
    assert_eq!(shared.pair(&fresh).0, 303, "the code outlives what was not looked at");
    assert_eq!(shared.pair(&fresh).0, 403, "and lets one phone in");
    for token in ["", "0123456789abcdef0123456789abcdef"] {
        let got = shared.ask("POST /note", &shared.phone_cookie(token), "what=talking");
        assert_eq!(got.0, 403);
    }
    assert!(!shared.desk.folder.join("survey.toml").exists());
}

#[test]
fn foreign_names_and_sites_are_refused_at_the_phones_door_too() {
    let shared = shared("foreign");
    let cookie = shared.phone_cookie(&shared.paired());
    let host = format!("host: {}", shared.phones);
    let door = shared.door();
    for name in ["host: evil.example", "host: localhost", "host: 127.0.0.1", "x: y"] {
        assert!(matches!(door.ask("GET /", &[name, &cookie], "").0, 400 | 421), "{name}");
    }
    let desk = format!("origin: http://{}", shared.desk.host);
    for origin in ["origin: http://evil.example", "origin: null", "x: y", &desk] {
        for path in ["/note", "/pair", "/leave", "/room"] {
            let got =
                door.ask(&format!("POST {path}"), &[&host, origin, &cookie, FORM], "what=talking");
            assert_eq!(got.0, 403, "{origin} {path}");
        }
    }
    assert!(!shared.desk.folder.join("survey.toml").exists());
}

#[test]
fn notes_land_in_the_log_until_the_phone_is_sent_away() {
    let shared = shared("notes");
    let cookie = shared.phone_cookie(&shared.paired());
    let note = |body: &str| shared.ask("POST /note", &cookie, body).0;
    assert_eq!(note("what=talking&room=bedroom"), 303);
    assert_eq!(note("what=talking"), 422, "it is noted already");
    std::thread::sleep(Duration::from_millis(150));
    assert_eq!(note("what=quiet"), 303);
    let hostile = "what=text&text=%22%0A%5B%5Broom%5D%5D%0Aid%3D%22x%22%3Cscript%3E";
    assert_eq!(note(hostile), 303);
    assert_eq!(note("what=text&text=+"), 422);
    assert_eq!(note("what=text&text=%00%07"), 422);
    assert_eq!(note("what=delete"), 422);
    assert_eq!(note(&format!("what=text&text={}", "x".repeat(5000))), 413);
    let survey = std::fs::read_to_string(shared.desk.folder.join("survey.toml")).unwrap();
    assert_eq!(survey.matches("[[log]]").count(), 2, "{survey}");
    assert!(survey.contains("until = ") && !survey.contains("\n[[room]]"), "{survey}");
    let files = wythe_project::MemoryFiles::new()
        .with("wythe.toml", wythe_project::template())
        .with("survey.toml", survey.clone());
    let reading = wythe_project::read(&files);
    assert!(reading.errors.is_empty(), "{:?}", reading.errors);
    assert_eq!(reading.project.unwrap().survey.unwrap().noted.len(), 2);
    let page = shared.desk.get("/phone").1;
    assert!(page.contains("pocket") && !page.contains("<script>"), "{page}");
    // Too many in a minute.
    let codes: Vec<u16> = (0..40).map(|n| note(&format!("what=text&text=n{n}"))).collect();
    assert!(codes.contains(&429) && codes[..10].iter().all(|c| *c == 303), "{codes:?}");
    // Sent away at the desk, the token opens nothing.
    assert_eq!(shared.desk.post("/share/revoke", "id=1").0, 303);
    assert_eq!(note("what=text&text=late"), 403);
    assert!(shared.ask("GET /", &cookie, "").1.contains("Pair this phone"));
    assert!(
        !std::fs::read_to_string(shared.desk.folder.join("survey.toml")).unwrap().contains("late")
    );
}

#[test]
fn the_desk_stays_on_this_machine_and_is_shared_only_within_a_private_network() {
    for bad in ["0.0.0.0", "8.8.8.8", "::", "example"] {
        let options = wythe_desk::Options { folder: None, port: 0, share: Some(bad.into()) };
        let got = wythe_desk::serve(&options, |_| panic!("{bad}"));
        assert!(matches!(got, Err(wythe_desk::DeskError::Share(_))), "{bad}");
    }
    let unshared = started("unshared");
    assert_eq!(unshared.post("/share/code", "").0, 404);
}
