//! Help texts.

/// `holdfast --help`
pub const OVERVIEW: &str = "\
Holdfast - the workbench for refrigerated containers at sea

usage: holdfast COMMAND [options]

  load FILE...     take in loading lists (EDIFACT or CSV); a second list is a difference
  take FILE...     take in readings: rounds and logger files (CSV)
  watch            what needs a person, most urgent first
  box UNIT         one box: facts, findings, readings
  serve            the same on a page, for this computer only
  verify FILE|DIR  has anything been altered: voyage file, dossiers, a PDF alone
  dossier          what was recorded about a box, as a signed PDF with its data: UNIT or --all
  note             write down what was noticed, done, restored, or a round missed
  log              who did what, in plain words: searched, printed, exported
  instrument       the register with certificates; ice-point checks: correction, drift, what is due
  chart            recorder charts: on, off, when due, where the original is kept
  handover PORT    what has to be shown at a port, what of it is held, what is still open
  report           the messages to shore: twice daily, or malfunctions
  round sheet      the paper for a round: every box in walking order, room for two rounds
  repair plan      with so many people: who goes where first, and why
  power            what the boxes draw, what the plant has left; --restart: the order after a blackout
  fluid NAME       saturation and state of a refrigerant, gauge and absolute
  gauge            what gauges and thermometers say about a circuit: faults, what to read next
  service plan     the shortest safe way from where the valves stand to the job done
  gas              the refrigerant account: cylinders, units, losses, checks due, record books
  spares           parts on board, parts used, what will be short
  vacuum plan      how long an evacuation takes, and what would shorten it
  vacuum hold      whether a pressure-rise hold says dry and gross tight, wet, or leaking
  treatment check  a quarantine cold treatment against its schedule: clock, breaches, verdict
  demo             a made-up ship of 300 boxes, from its files to the page

  --voyage FILE    the voyage file (else HOLDFAST_VOYAGE, else ./voyage.holdfast)
  --json           one JSON document on standard output
  --help           after a command: more about it, with an example

exit status: 0 done; 2 input or usage refused, nothing stored; 3 the check itself says no
Holdfast advises. It never commands a unit, and defers to maker's instructions, the ship's
procedures, local codes and licensed practice.

example: holdfast load bayplan.edi && holdfast take round.csv && holdfast watch";

/// The help text of a command; the overview for an empty name.
pub fn of(command: &str) -> Option<&'static str> {
    Some(match command {
        "" => OVERVIEW,
        "load" => LOAD,
        "take" => TAKE,
        "watch" => WATCH,
        "box" => BOX,
        "verify" => crate::cmd::verify::HELP,
        "demo" => DEMO,
        "serve" => SERVE,
        "fluid" => FLUID,
        "chart" => crate::cmd::chart::HELP,
        "dossier" => crate::cmd::dossier::HELP,
        "gas" => crate::cmd::gas::HELP,
        "gauge" => crate::cmd::gauge::HELP,
        "handover" => crate::cmd::handover::HELP,
        "instrument" => crate::cmd::instrument::HELP,
        "log" => crate::cmd::log::HELP,
        "note" => crate::cmd::note::HELP,
        "report" => crate::cmd::report::HELP,
        "round" => crate::cmd::round::HELP,
        "power" => crate::cmd::power::HELP,
        "repair" => crate::cmd::repair::HELP,
        "service" => crate::cmd::service::HELP,
        "spares" => crate::cmd::spares::HELP,
        "vacuum" => crate::cmd::vacuum::HELP,
        "treatment" => crate::cmd::treatment::HELP,
        _ => return None,
    })
}

const LOAD: &str = "\
holdfast load FILE... [--voyage FILE] [--dry-run] [--who NAME] [--json]

Takes in loading lists: EDIFACT stowage and load/discharge messages, or CSV with the columns
unit stow size_type full weight_kg load_port discharge_port set_point_c|set_point_f
humidity_pct vent_m3_h cargo (only unit is required). All files of one command are one list.

A voyage file named by --voyage or HOLDFAST_VOYAGE is created when there is none. With neither,
and no ./voyage.holdfast, the list is only read and shown. --dry-run stores nothing either.
A second list is compared with the one held: added, removed, moved, set point changed. A bayplan
or a CSV list speaks for the whole ship; a load or discharge order only for the boxes it and
earlier orders named; a file that is cut removes nobody.
A bad field never drops a unit: it is blank, with a warning.

example: holdfast load 01-bayplan.edi --voyage v017.holdfast --who \"J. Ruiz\"";

const TAKE: &str = "\
holdfast take FILE... [--voyage FILE] [--who NAME] [--json]

Takes in readings: CSV with a header. time_utc and unit are required; any of
set_point_c supply_c return_c ambient_c probe1_c probe2_c probe3_c probe4_c rh_set_pct rh_pct
co2_pct o2_pct power_kw on_power mode alarm source remark
may follow, in any order; a temperature column may end _f. Times are RFC 3339 or
\"YYYY-MM-DD HH:MM[:SS]\" (UTC). mode: chilled frozen defrost off. Empty = not read.

A bad row is refused by line, the rest goes in. The same row twice is stored once. Two values for
one box, time, column and source are both kept and counted as a conflict.

example: holdfast take round-0800.csv logger.csv --voyage v017.holdfast
         (a round of one box:  time_utc,unit,set_point_c,supply_c,return_c,on_power
                               2026-03-05 08:10,QQQU1000011,-18.0,-19.1,-17.8,1)";

const WATCH: &str = "\
holdfast watch [--voyage FILE] [--as-of latest|now|TIME] [--all] [--json] [--out FILE.pdf]

What needs a person, most urgent first: what, where, how long, why, and what to do first.
Hours to the cargo's limit carry a 90 % interval in brackets. The list speaks of the latest
reading held unless --as-of says otherwise. --all shows the boxes that are fine too.
--out writes those that are not fine on paper, with their bars on one scale; signed.

example: holdfast watch --voyage v017.holdfast --as-of now";

const BOX: &str = "\
holdfast box UNIT [--repair-in-h H] [--voyage FILE] [--as-of latest|now|TIME] [--json]

One box: what the list says, what was found, when each limit is met on the present course, with
power lost now, and repaired after H hours (6); the cargo's facts with their trust marks, the
latest readings (all of them with --json).

example: holdfast box QQQU1000011";

const DEMO: &str = "\
holdfast demo [--dir DIR] [--boxes N] [--days D] [--seed S] [--no-serve] [--listen ADDR]

A made-up ship with its route, crew, cargo and faults. Writes the files such a ship would have
into DIR (default ./holdfast-demo) and the truth aside in DIR/truth, takes them in as
DIR/demo.holdfast, and serves the page. Same seed, same files.

example: holdfast demo --boxes 300 --days 14 --seed 1";

const SERVE: &str = "\
holdfast serve [--voyage FILE] [--listen ADDR]

Serves the page to this computer only (default 127.0.0.1:8137) and prints its address when it
answers. Lists and readings can be taken in there too. Ctrl-C ends it.

example: holdfast serve --voyage v017.holdfast --listen 127.0.0.1:8137";

const FLUID: &str = "\
holdfast fluid NAME (--p-kpa P | --p TEXT | --t-c T | --t TEXT) [--barometer-kpa B] [--json]

Saturation both ways from a pressure or a temperature; the state from both. Names: R134a R404A
R452A R513A R744 R290 R1234yf R23. --p-kpa is absolute. --p takes a reading with its unit:
1.8psig 0.35barg 250kPag 15psia 500um; --t takes -18C 34F 255K. A number without a unit is
refused, never guessed. Barometer 101.325 kPa unless said.

Subcooling is from the bubble line, superheat from the dew line. Pressure and temperature alone
never prove which refrigerant is inside. Cold burns, pressure: gloves and goggles, maker's
instructions first; R290 burns.

example: holdfast fluid R134a --p 1.8psig
         holdfast fluid R452A --p-kpa 1500 --t -10C --json";
