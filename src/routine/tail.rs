//! What stands below the dance: thanks, addresses, reminders.

use super::finding::{Fault, Finding, Severity};
use super::line::Line;
use super::model::Routine;
use super::parse::LineRole;

/// Fewest words of such a line: a slip in a step's name has fewer.
const FEWEST_WORDS: usize = 3;

/// Lines below the last that is understood, none of whose words is near a step or a part, are notes. A remark says so.
pub(super) fn notes_at_the_end(
    lines: &[Line<'_>],
    routine: &mut Routine,
    roles: &mut [LineRole],
    findings: &mut Vec<Finding>,
) {
    let unknown = |f: &Finding| {
        matches!(
            f.fault,
            Fault::UnknownLine { nearest: None } | Fault::UnknownStep { nearest: None }
        )
    };
    let ordered = roles.contains(&LineRole::Order);
    for i in (0..lines.len()).rev() {
        let number = i + 1;
        let here: Vec<&Finding> = findings.iter().filter(|f| f.line == number).collect();
        let known =
            here.is_empty() || !here.iter().all(|f| unknown(f) || f.severity() == Severity::Remark);
        match roles.get(i) {
            Some(LineRole::Blank | LineRole::Note | LineRole::Field) if here.is_empty() => continue,
            Some(LineRole::Steps | LineRole::Note | LineRole::Definition | LineRole::Unknown)
                if !known =>
            {
                let danced = routine.parts.iter().flat_map(|p| &p.lines).any(|l| l.line == number);
                let words = lines[i].text.split_whitespace().count();
                // A name under the last words, or apart from all else below the order, is a signature.
                let before = i.checked_sub(1).and_then(|b| roles.get(b));
                let name = lines[i].text.split_whitespace().all(is_capitalized);
                let apart = before == Some(&LineRole::Blank) && (ordered || words > 1 && name);
                let signed = before == Some(&LineRole::Note) || apart;
                let short = words < FEWEST_WORDS && !signed;
                if danced || short || lines[i].text.starts_with(char::is_numeric) {
                    return;
                }
            }
            _ => return,
        }
        let mut said = false;
        findings.retain_mut(|f| {
            if f.line != number || f.severity() == Severity::Remark {
                return true;
            }
            f.fault = Fault::TakenAsNote;
            !std::mem::replace(&mut said, true)
        });
        routine.notes.push(lines[i].typed.trim().to_string());
        roles[i] = LineRole::Note;
    }
}

/// Whether a word begins with a capital and goes on in small letters, or is a capital alone: `Jodie`, `K`.
fn is_capitalized(word: &str) -> bool {
    let mut letters = word.chars();
    letters.next().is_some_and(char::is_uppercase)
        && !letters.any(|c| c.is_uppercase() || c.is_ascii_digit())
}
