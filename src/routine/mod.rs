//! The routine: a cue sheet that the tool can read.
//!
//! ```text
//! text ──lines──▶ what each line is ──parse──▶ Routine + findings ──proof──▶ more findings
//! ```
//!
//! ```
//! let sheet = "Title: Lantern Walk\nWait: 16\n\nPart A (8)\n2 Triple\n\nOrder: A A\n";
//! let (routine, findings) = hoofbeat::routine::parse(sheet);
//! assert!(findings.is_empty());
//! assert_eq!(routine.counts(), 16);
//! ```

mod bar_rows;
mod bars;
mod beneath;
mod book;
mod brackets;
mod build;
mod certain;
mod certain_line_dance;
mod claims;
mod codes;
mod column_heads;
mod compositions;
mod doubt;
mod fault;
mod fault_words;
mod field;
mod finding;
mod foot_rows;
mod front;
pub mod glossary;
mod groups;
mod heading;
mod heading_rows;
mod item;
mod layout;
mod leaders;
mod line;
mod line_counts;
mod line_dance;
mod line_figures;
mod line_marks;
mod line_rules;
mod line_steps;
mod lines;
pub mod load;
mod markup;
mod metre;
mod model;
mod modifiers;
mod movement;
mod movement_columns;
mod named_order;
mod named_steps;
mod names_in_a_row;
mod names_on_line;
mod notation;
mod numbers;
mod numerals;
mod order;
mod order_notes;
mod order_words;
mod other_readings;
mod outline;
mod own_steps;
mod parse;
mod part_names;
mod parts;
mod phrases;
mod proof;
mod prose;
mod read;
mod repeat_line;
mod repeat_words;
mod repeats;
mod running;
mod same_as;
mod section_titles;
mod sections;
mod set_off;
mod settle;
mod shapes;
mod sheet_lines;
mod short_names;
mod short_steps;
mod shorthand;
mod signed_turns;
mod step_file;
mod step_line;
mod step_lists;
mod step_words;
mod table_cells;
mod tables;
mod tail;
mod times_and_counts;
mod timing_lines;
mod titles;
mod token;
mod tongues;
mod top;
mod totals;
mod turning;
mod vocabulary;
mod waits;
mod words;
mod written_order;

pub use finding::{Fault, Finding, Severity};
pub use model::{Effect, OrderItem, Part, PartKind, Passage, Routine, StepLine, StepUse};
pub use movement::{
    MOVEMENTS, Movement, MovementUse, QUARTERS_PER_COUNT, Quarters, Source, Timing, Weight,
    find_movement, timing_mark,
};
pub use notation::{read_feet, read_movements};
pub use order::OrderPlace;
pub use parse::{LineRole, SheetRead, line_roles, order_places, parse, parse_with, read_sheet};
pub use read::{Read, decode, load, load_with, read, read_with};
pub use sheet_lines::{WORKED_OUT, lines_with_ends, without_worked_out};
pub use step_file::StepFiles;
pub use timing_lines::read_timing;
