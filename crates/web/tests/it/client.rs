//! A server on a free port, and just enough of HTTP/1.1 (RFC 9112) to talk to it.

use std::io::{BufRead, BufReader, Read, Write};
use std::net::{SocketAddr, TcpStream};
use std::path::PathBuf;
use std::sync::mpsc;
use std::thread::JoinHandle;
use std::time::Duration;

use tokio::sync::oneshot;
use units::Utc;
use voyage::Voyage;
use web::Options;

const BOUNDARY: &str = "----a-boundary";

pub struct Server {
    pub address: SocketAddr,
    folder: PathBuf,
    stop: Option<oneshot::Sender<()>>,
    thread: Option<JoinHandle<()>>,
}

pub struct Answer {
    pub status: u16,
    headers: Vec<(String, String)>,
    pub body: String,
}

impl Answer {
    pub fn header(&self, name: &str) -> &str {
        let found = self.headers.iter().find(|(n, _)| n == name);
        found.map_or("", |(_, v)| v.as_str())
    }
}

fn now() -> Utc {
    Utc::parse("2026-01-05T09:00:00Z").unwrap()
}

impl Server {
    pub fn start(name: &str) -> Self {
        Self::start_with(name, |_| {})
    }

    pub fn start_with(name: &str, set: impl FnOnce(&mut Options)) -> Self {
        let folder =
            std::env::temp_dir().join(format!("holdfast-web-{name}-{}", std::process::id()));
        std::fs::create_dir_all(&folder).unwrap();
        let voyage = Voyage::open_or_create(&folder.join("voyage.holdfast")).unwrap();
        let mut options = Options::default();
        set(&mut options);
        let (stop, stopped) = oneshot::channel::<()>();
        let (ready, address) = mpsc::channel();
        let listen: SocketAddr = ([127, 0, 0, 1], 0).into();
        let thread = std::thread::spawn(move || {
            let until = async {
                let _ = stopped.await;
            };
            web::serve_until(voyage, listen, options, |a| ready.send(a).unwrap(), until).unwrap();
        });
        Self {
            address: address.recv_timeout(Duration::from_secs(20)).unwrap(),
            folder,
            stop: Some(stop),
            thread: Some(thread),
        }
    }

    pub fn host(&self) -> String {
        self.address.to_string()
    }

    fn connect(&self) -> TcpStream {
        let stream = TcpStream::connect(self.address).unwrap();
        stream.set_read_timeout(Some(Duration::from_secs(20))).unwrap();
        stream
    }

    pub fn get(&self, path: &str) -> Answer {
        self.send(&format!("GET {path} HTTP/1.1\r\nHost: {}\r\n\r\n", self.host()))
    }

    /// Sends a request as it stands, asking to close afterwards, and reads the answer.
    pub fn send(&self, request: &str) -> Answer {
        let closing = request.replacen("\r\n", "\r\nConnection: close\r\n", 1);
        let mut stream = self.connect();
        stream.write_all(closing.as_bytes()).unwrap();
        read_answer(stream)
    }

    pub fn post_form(&self, path: &str, form: &str) -> Answer {
        self.send(&format!(
            "POST {path} HTTP/1.1\r\nHost: {}\r\nContent-Type: application/x-www-form-urlencoded\r\n\
             Content-Length: {}\r\n\r\n{form}",
            self.host(),
            form.len()
        ))
    }

    pub fn post_file(&self, path: &str, name: &str, text: &str) -> Answer {
        let own = format!("http://{}", self.host());
        self.post_file_from(path, name, text, Some(&own))
    }

    pub fn post_file_from(
        &self,
        path: &str,
        name: &str,
        text: &str,
        origin: Option<&str>,
    ) -> Answer {
        let body = multipart(name, text);
        let origin = origin.map_or_else(String::new, |o| format!("Origin: {o}\r\n"));
        self.send(&format!(
            "POST {path} HTTP/1.1\r\nHost: {}\r\n{origin}Content-Type: multipart/form-data; \
             boundary={BOUNDARY}\r\nContent-Length: {}\r\n\r\n{body}",
            self.host(),
            body.len()
        ))
    }

    /// The same without saying beforehand how long it is.
    pub fn post_chunked(&self, path: &str, name: &str, text: &str) -> Answer {
        let body = multipart(name, text);
        self.send(&format!(
            "POST {path} HTTP/1.1\r\nHost: {}\r\nContent-Type: multipart/form-data; \
             boundary={BOUNDARY}\r\nTransfer-Encoding: chunked\r\n\r\n{:x}\r\n{body}\r\n0\r\n\r\n",
            self.host(),
            body.len()
        ))
    }

    pub fn listen(&self, path: &str) -> News {
        let mut stream = self.connect();
        let request = format!("GET {path} HTTP/1.1\r\nHost: {}\r\n\r\n", self.host());
        stream.write_all(request.as_bytes()).unwrap();
        News(BufReader::new(stream))
    }

    /// What another program does with the same voyage file.
    pub fn elsewhere(&self, act: impl FnOnce(&mut Voyage, Utc)) {
        let mut voyage = Voyage::open(&self.folder.join("voyage.holdfast")).unwrap();
        act(&mut voyage, now());
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        drop(self.stop.take());
        // A failed test must not hang on a server that does not end.
        if let Some(thread) = self.thread.take()
            && !std::thread::panicking()
        {
            thread.join().unwrap();
        }
        let _ = std::fs::remove_dir_all(&self.folder);
    }
}

/// An event stream, line by line.
pub struct News(BufReader<TcpStream>);

impl News {
    /// The data of the next event.
    pub fn next(&mut self) -> String {
        loop {
            let mut line = String::new();
            assert!(self.0.read_line(&mut line).unwrap() > 0, "the stream ended");
            if let Some(data) = line.strip_prefix("data:") {
                return data.trim().to_owned();
            }
        }
    }
}

fn multipart(name: &str, text: &str) -> String {
    format!(
        "--{BOUNDARY}\r\nContent-Disposition: form-data; name=\"who\"\r\n\r\nSecond engineer\r\n\
         --{BOUNDARY}\r\nContent-Disposition: form-data; name=\"files\"; filename=\"{name}\"\r\n\
         Content-Type: application/octet-stream\r\n\r\n{text}\r\n--{BOUNDARY}--\r\n"
    )
}

fn read_answer(stream: TcpStream) -> Answer {
    let mut all = Vec::new();
    // A connection that is reset after the answer still leaves the answer.
    let _ = BufReader::new(stream).read_to_end(&mut all);
    let text = String::from_utf8_lossy(&all).into_owned();
    let (head, body) = text.split_once("\r\n\r\n").unwrap_or((&text, ""));
    let mut lines = head.lines();
    let status = lines.next().and_then(|l| l.split(' ').nth(1)).and_then(|s| s.parse().ok());
    let headers: Vec<(String, String)> = lines
        .filter_map(|l| l.split_once(':'))
        .map(|(n, v)| (n.to_ascii_lowercase(), v.trim().to_owned()))
        .collect();
    Answer { status: status.unwrap_or(0), headers, body: body.to_owned() }
}
