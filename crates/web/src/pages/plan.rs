//! The bay plan.

use figures::plan::{block_of, profile, section, small};
use figures::{Block, Misplaced, Ship};
use maud::{Markup, PreEscaped, html};
use record::{State, WatchList};

use super::watch::{as_of, place};
use super::{Live, STATES, Shell, Tab, box_href, page, state_tag, state_word, temp_or_blank};

/// Boxes without a place that are listed on one page.
const MISPLACED_SHOWN: usize = 200;

/// The plan of the whole ship, or of one block of bays.
#[must_use]
pub fn plan_page(shell: &Shell, list: &WatchList, bay: Option<u16>) -> Markup {
    let ship = Ship::new(&list.boxes);
    let content = html! {
        h1 { "Bay plan" }
        (as_of(shell, list))
        (key())
        @if ship.blocks.is_empty() {
            p.empty {
                "No box has a readable cell yet. " a href="/files" { "Load a loading list" } "."
            }
        } @else {
            (overview(&ship, bay))
        }
        @match bay {
            Some(bay) => (one_block(&ship, bay)),
            None => (all_blocks(&ship)),
        }
        (misplaced(&ship.misplaced, bay))
    };
    let title = match bay {
        Some(bay) => format!("Bay {bay:02}"),
        None => "Bay plan".to_owned(),
    };
    page(shell, Tab::Plan, Live::Yes, &title, &content)
}

fn bay_href(bay: u16) -> String {
    format!("/plan?bay={bay}#bay")
}

/// The signs and their words.
fn key() -> Markup {
    html! {
        ul.key aria-label="Signs" {
            @for s in STATES { li { (state_tag(s)) } }
        }
    }
}

fn overview(ship: &Ship, bay: Option<u16>) -> Markup {
    html! {
        @if let Some(svg) = profile(ship, bay.map(block_of), bay_href) {
            div.scroll tabindex="0" role="region" aria-label="The ship from the side" {
                (PreEscaped(svg))
            }
        }
    }
}

fn block_counts(block: &Block) -> Markup {
    html! {
        span.block-counts {
            @for s in STATES {
                @let n = block.count(s);
                @if n > 0 {
                    span class={ "state " (s.as_str()) } {
                        (PreEscaped(figures::state_glyph(s, 14.0))) (n)
                        span.unseen { " " (state_word(s)) }
                    }
                }
            }
        }
    }
}

fn all_blocks(ship: &Ship) -> Markup {
    html! {
        h2 { "Every bay" }
        p.hint { "Seen from aft looking forward, port to the left. Pick a bay to see its boxes." }
        ul.small-bays {
            @for block in &ship.blocks {
                li {
                    a href=(bay_href(block.bay)) {
                        strong { (capital(&block.name())) }
                        (PreEscaped(small(ship, block)))
                        (block_counts(block))
                    }
                }
            }
        }
    }
}

fn one_block(ship: &Ship, bay: u16) -> Markup {
    let Some(block) = ship.block(bay) else {
        return html! {
            h2 #bay { "Bay " (format!("{bay:02}")) }
            p.empty { "No refrigerated box stands there. " a href="/plan" { "Show every bay" } "." }
        };
    };
    let mut lines: Vec<_> = block.boxes.iter().map(|p| p.line).collect();
    lines.sort_by(|a, b| b.state.cmp(&a.state).then_with(|| a.cell.cmp(&b.cell)));
    html! {
        h2 #bay { (capital(&block.name())) }
        (neighbours(ship, block))
        p.hint {
            "Seen from aft looking forward. A whole cell is a 40 ft box. Half a cell with a dark "
            "corner is a 20 ft box: upper half the forward bay, lower half the after bay. "
            "The bar is the time to the cargo’s limit with its 90 % interval, from half an hour at "
            "the left to thirty days at the right."
        }
        div.scroll tabindex="0" role="region" aria-label={ "Section of " (block.name()) } {
            (PreEscaped(section(block, |p| box_href(&p.line.unit))))
        }
        h3 { "The same boxes as a list" }
        ul.bay-list {
            @for b in lines {
                li class=(b.state.as_str()) {
                    a href=(box_href(&b.unit)) {
                        (state_tag(b.state)) " " strong { (b.unit) } " " span { (place(b)) }
                        @if b.set_point_c.is_some() {
                            " " span { "set " (temp_or_blank(b.set_point_c)) }
                        }
                    }
                    @if b.state != State::Ok { p { (b.reason) } }
                }
            }
        }
    }
}

/// The next block toward the bow and the stern.
fn neighbours(ship: &Ship, block: &Block) -> Markup {
    let at = ship.blocks.iter().position(|b| b.bay == block.bay).unwrap_or(0);
    let before = at.checked_sub(1).and_then(|i| ship.blocks.get(i));
    let after = ship.blocks.get(at + 1);
    html! {
        nav.neighbours aria-label="Neighbouring bays" {
            @if let Some(b) = before {
                a.button href=(bay_href(b.bay)) { "← toward the bow: " (b.name()) }
            }
            a.button href="/plan" { "Every bay" }
            @if let Some(b) = after {
                a.button href=(bay_href(b.bay)) { "toward the stern: " (b.name()) " →" }
            }
        }
    }
}

/// With one block on show, only those whose cell lies in it.
fn misplaced(all: &[Misplaced], bay: Option<u16>) -> Markup {
    let here = |m: &&Misplaced| match (bay, m.line.cell) {
        (Some(bay), Some(cell)) => block_of(cell.bay) == block_of(bay),
        (Some(_), None) => false,
        (None, _) => true,
    };
    let list: Vec<&Misplaced> = all.iter().filter(here).collect();
    html! {
        @if !list.is_empty() {
            h2 { "Not in the picture" }
            ul.bay-list {
                @for m in list.iter().take(MISPLACED_SHOWN) {
                    li class=(m.line.state.as_str()) {
                        a href=(box_href(&m.line.unit)) {
                            (state_tag(m.line.state)) " " strong { (m.line.unit) }
                        }
                        p { (capital(&m.why)) ". Check the list against the ship." }
                    }
                }
            }
            @if list.len() > MISPLACED_SHOWN {
                p { "And " (list.len() - MISPLACED_SHOWN) " more; they are on the "
                    a href="/" { "watch list" } "." }
            }
        }
    }
}

/// First letter in upper case.
fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |c| c.to_uppercase().chain(chars).collect())
}
