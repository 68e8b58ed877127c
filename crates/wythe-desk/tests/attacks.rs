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
    let options = wythe_desk::Options { folder: Some(folder.clone()), port: 0 };
    std::thread::spawn(move || {
        wythe_desk::serve(&options, |address| sender.send(address.to_owned()).unwrap())
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
        for path in ["/edit", "/undo", "/start/open", "/job/begin", "/try"] {
            let got = desk.ask(
                &format!("POST {path}"),
                &[&host, origin, &desk.cookie(), form],
                "do=text&value=x",
            );
            assert_eq!(got.0, 403, "{origin} {path}");
        }
        let got = desk.ask("PUT /upload/x.wav", &[&host, origin, &desk.cookie()], "RIFF");
        assert_eq!(got.0, 403);
    }
    assert_eq!(std::fs::read_to_string(desk.folder.join("wythe.toml")).unwrap(), before);
    assert!(!desk.folder.join("recordings").exists());
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
