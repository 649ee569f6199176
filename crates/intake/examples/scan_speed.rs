//! How quickly probe readings are scanned: `cargo run --release -p intake --example scan_speed --
//! FILE.csv`

use std::io::{Read, Write};
use std::time::Instant;

use intake::probes::{Encoding, Scanner};

fn main() -> std::io::Result<()> {
    let mut out = std::io::stdout().lock();
    for path in std::env::args().skip(1) {
        let begin = Instant::now();
        let mut file = std::fs::File::open(&path)?;
        let mut scanner = Scanner::new(&path, Encoding::Utf8);
        let mut buffer = vec![0u8; 256 * 1024];
        let (mut held, mut bytes, mut sum) = (0, 0usize, 0i64);
        loop {
            let got = file.read(buffer.get_mut(held..).unwrap_or(&mut []))?;
            held += got;
            bytes += got;
            let given = buffer.get(..held).unwrap_or(&[]);
            let used = scanner.scan(given, got == 0, &mut |row| {
                for c in row.cells {
                    sum = sum.wrapping_add(c.get().map_or(0, |(m, _)| m));
                }
            });
            let Ok(used) = used else { break };
            if got == 0 {
                break;
            }
            buffer.copy_within(used..held, 0);
            held -= used;
            if held == buffer.len() {
                buffer.resize(held * 2, 0);
            }
        }
        let s = begin.elapsed().as_secs_f64();
        let done = scanner.finish();
        writeln!(
            out,
            "{path}: {} rows, {} refused, sum {sum}, {s:.3} s, {:.0} MB/s, {:.1} ns a row",
            done.rows,
            done.refused_count,
            bytes as f64 / 1e6 / s,
            s * 1e9 / done.rows as f64
        )?;
    }
    Ok(())
}
