//! Server-sent events: open pages hear when something came in.

use std::convert::Infallible;
use std::pin::Pin;
use std::sync::Arc;
use std::task::{Context, Poll};
use std::time::Duration;

use axum::extract::State;
use axum::response::IntoResponse;
use axum::response::sse::{Event, KeepAlive, Sse};
use futures_core::Stream;
use tokio::sync::mpsc;

use crate::engine::App;

/// What the browser waits before it asks again, after the line was cut.
const RETRY: Duration = Duration::from_secs(3);

/// A stream over a channel.
pub struct News(mpsc::Receiver<i64>);

impl Stream for News {
    type Item = Result<Event, Infallible>;

    fn poll_next(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<Option<Self::Item>> {
        let next = self.0.poll_recv(cx);
        next.map(|entry| entry.map(|n| Ok(changed(n))))
    }
}

fn changed(entry: i64) -> Event {
    Event::default().event("changed").retry(RETRY).data(format!("{{\"entry\":{entry}}}"))
}

/// `GET /events`: the newest entry at once, and again whenever it changes. A page compares it
/// with the entry it was made from, so that nothing is missed between making and listening.
pub async fn events(State(app): State<Arc<App>>) -> impl IntoResponse {
    let (sender, receiver) = mpsc::channel(4);
    let mut news = app.news();
    let mut stopping = app.stopping();
    tokio::spawn(async move {
        loop {
            let entry = *news.borrow_and_update();
            if sender.send(entry).await.is_err() {
                return;
            }
            tokio::select! {
                changed = news.changed() => if changed.is_err() { return },
                () = sender.closed() => return,
                _ = stopping.wait_for(|stop| *stop) => return,
            }
        }
    });
    Sse::new(News(receiver)).keep_alive(KeepAlive::new().interval(Duration::from_secs(20)))
}
