//! `holdfast serve`

use std::net::SocketAddr;
use std::path::Path;

use voyage::Voyage;

use crate::args::Serve;
use crate::fail::Fail;
use crate::{files, out};

/// Serves the page. A voyage file is made when there is none: lists and readings can be taken in
/// on the page.
pub fn run(c: &Serve) -> Result<u8, Fail> {
    serve(&files::voyage_path(c.voyage.as_deref()), c.listen)
}

/// Serves one voyage file on one address.
pub fn serve(path: &Path, listen: SocketAddr) -> Result<u8, Fail> {
    let voyage = Voyage::open_or_create(path)?;
    let ready = |address: SocketAddr| {
        let _ = out::print(format!("http://{address}/"));
    };
    web::serve(voyage, listen, web::Options::default(), ready).map_err(|e| {
        Fail::refused(format!("{listen}: {e}; is it served already? try --listen 127.0.0.1:0"))
    })?;
    Ok(0)
}
