//! Proof-reading of a whole routine: feet and walls over the order, parts that nobody dances.

use std::collections::HashSet;

use crate::units::{Foot, Wall};

use super::claims::{FootClaim, OtherFootClaim, WallClaim, from_lead};
use super::finding::{Fault, Finding};
use super::glossary;
use super::line::Line;
use super::model::{Passage, Routine};

/// What the sheet claims in one part.
#[derive(Debug, Clone, Default)]
pub struct PartClaims {
    /// About feet.
    pub feet: Vec<FootClaim>,
    /// About walls.
    pub walls: Vec<WallClaim>,
    /// About the foot, as against another part.
    pub other_foot: Vec<OtherFootClaim>,
    /// Whether any of its steps is said to turn.
    pub turns: bool,
    /// Whether a step is danced in it whose feet are not known.
    pub feet_unknown: bool,
}

/// Holds the sheet's claims against what the movements give over the whole order.
pub fn proof_read(
    routine: &Routine,
    claims: &[PartClaims],
    lines: &[Line<'_>],
    findings: &mut Vec<Finding>,
) {
    let walk = routine.walk();
    let mut first_times: Vec<Option<&Passage>> = vec![None; routine.parts.len()];
    for passage in &walk {
        if let Some(first) = first_times.get_mut(passage.part) {
            first.get_or_insert(passage);
        }
    }
    // Feet written from the right somewhere are written as they are danced everywhere.
    let as_danced = claims.iter().zip(&first_times).any(|(claims, first)| {
        first.is_some_and(|p| p.lead_foot == Foot::Right)
            && score(claims, Foot::Right) < score(claims, Foot::Left)
    });
    // Behind the first part with a step whose feet are not known no part's first foot is known.
    let known_until = walk
        .iter()
        .position(|p| claims.get(p.part).is_some_and(|c| c.feet_unknown))
        .unwrap_or(walk.len());
    for (part, claims) in claims.iter().enumerate() {
        let first = first_times.get(part).copied().flatten();
        let known = first.is_none_or(|p| p.order_index <= known_until);
        check_feet(claims, first, known, as_danced, findings);
        if let Some(first) = first {
            check_walls(claims, first.wall_before, findings);
            if known && !claims.feet_unknown {
                check_other_foot(claims, first.lead_foot, &first_times, findings);
            }
        }
    }
    sides_not_feet(claims, findings);
    check_use(routine, &first_times, lines, findings);
    other_foot(routine, &walk, &first_times, findings);
    if let Some(last) = walk.last()
        && last.wall_after != Wall::Front
    {
        findings.push(Finding::of_the_sheet(Fault::EndsFacing { wall: last.wall_after }));
    }
}

/// A part's feet are right when they go together and start on the foot that is free there. A sheet may
/// also write every part as if it started left.
fn check_feet(
    claims: &PartClaims,
    first: Option<&Passage>,
    known: bool,
    as_danced: bool,
    findings: &mut Vec<Finding>,
) {
    if claims.feet.is_empty() {
        return;
    }
    let danced = first.map_or(Foot::Left, |p| p.lead_foot);
    let may_differ = danced == Foot::Left || !as_danced || !known;
    let written = if may_differ && score(claims, danced.other()) < score(claims, danced) {
        danced.other()
    } else {
        danced
    };
    for claim in &claims.feet {
        let Some(foot) = claim.feet.iter().find(|f| f.typed != from_lead(f.from_left, written))
        else {
            continue;
        };
        let fault = if claim.lead {
            lead_fault(claim, foot.typed, from_lead(foot.from_left, written), false)
        } else {
            let [left, right] = &claim.lines;
            Fault::FeetDiffer {
                computed: if written == Foot::Left { left.clone() } else { right.clone() },
                movement: foot.movement.clone(),
                typed: foot.typed,
                holds_weight: foot.needs_free_foot,
            }
        };
        findings.push(found(claim, fault));
    }
    if written != danced
        && known
        && danced == Foot::Left
        && let Some(claim) = claims.feet.iter().find(|c| c.wrong(written) == 0)
        && let Some(foot) = claim.feet.first()
    {
        let starts = first.is_some_and(|p| p.order_index == 0);
        let (typed, free) = (foot.typed, from_lead(foot.from_left, danced));
        // `Vine R & L` alone in its part says to either side.
        let fault = match claims.feet.iter().all(|c| goes_both_ways(c, &claims.feet)) {
            true => Fault::FootOrSide { typed, free },
            false => lead_fault(claim, typed, free, starts),
        };
        findings.push(found(claim, fault));
    }
}

/// Where more than one foot that steps are said to start on is not free, and these are a third of all, the sheet says
/// by them which way to go.
fn sides_not_feet(claims: &[PartClaims], findings: &mut [Finding]) {
    let leads = claims.iter().flat_map(|c| &c.feet).filter(|c| c.lead).count();
    let differ =
        |f: &Finding| matches!(f.fault, Fault::LeadDiffers { .. }) && !f.words.contains([' ', ',']);
    for part in claims {
        let sides: HashSet<(usize, usize)> = mirrored(&part.feet);
        let here = findings.iter_mut().filter(|f| differ(f));
        here.filter(|f| sides.contains(&(f.line, f.column))).for_each(as_a_side);
    }
    let wrong = findings.iter().filter(|f| differ(f)).count();
    if wrong < 2 || wrong * 3 < leads {
        return;
    }
    findings.iter_mut().filter(|f| differ(f)).for_each(as_a_side);
}

pub(super) fn as_a_side(f: &mut Finding) {
    if let Fault::LeadDiffers { typed, free, .. } = f.fault {
        f.fault = Fault::FootOrSide { typed, free };
    }
}

/// `Cowboy L`, then `Cowboy R`, where the same foot is free both times: left and right are sides. Gives the places of
/// such claims.
fn mirrored(claims: &[FootClaim]) -> HashSet<(usize, usize)> {
    const MOST_COMPARED: usize = 500;
    let mut out = HashSet::new();
    let leads: Vec<&FootClaim> =
        claims.iter().filter(|c| c.lead && c.feet.len() == 1).take(MOST_COMPARED).collect();
    for (i, a) in leads.iter().enumerate() {
        for b in &leads[i + 1..] {
            let (first, second) = (&a.feet[0], &b.feet[0]);
            let near = b.line.abs_diff(a.line) <= 1 || travels(&first.movement);
            if near
                && first.movement == second.movement
                && first.typed != second.typed
                && first.from_left == second.from_left
            {
                out.extend([(a.line, a.column), (b.line, b.column)]);
            }
        }
    }
    out
}

/// Whether a step is said to start on either foot on one line.
pub(super) fn goes_both_ways(claim: &FootClaim, all: &[FootClaim]) -> bool {
    let Some(foot) = claim.feet.first().filter(|_| claim.lead) else { return false };
    all.iter()
        .filter(|c| c.lead && c.line == claim.line)
        .flat_map(|c| &c.feet)
        .any(|other| other.typed != foot.typed && other.movement == foot.movement)
}

/// Whether a step is a figure of eight counts, which goes to a side.
fn travels(step: &str) -> bool {
    const COUNTS: u32 = 8;
    glossary::find(step).is_some_and(|(_, step)| step.counts >= COUNTS)
}

/// A start on a foot that is not free. `Charleston left` may say where it goes as well as the foot.
fn lead_fault(claim: &FootClaim, typed: Foot, free: Foot, first: bool) -> Fault {
    let word = claim.words.to_lowercase();
    match matches!(word.as_str(), "left" | "right") && !first {
        true => Fault::FootOrSide { typed, free },
        false => Fault::LeadDiffers { typed, free, first },
    }
}

/// How much of the claims is wrong when the part starts with `lead` free: claims, then feet.
fn score(claims: &PartClaims, lead: Foot) -> (usize, usize) {
    let wrong_claims = claims.feet.iter().filter(|c| c.wrong(lead) > 0).count();
    let wrong_feet: usize = claims.feet.iter().map(|c| c.wrong(lead)).sum();
    (wrong_claims, wrong_feet)
}

fn found(claim: &FootClaim, fault: Fault) -> Finding {
    Finding { line: claim.line, column: claim.column, words: claim.words.clone(), fault }
}

fn check_walls(claims: &PartClaims, start: Wall, findings: &mut Vec<Finding>) {
    for claim in &claims.walls {
        let computed = start.turned_eighths(claim.turn);
        if claim.wall != computed {
            let typed = claim.wall;
            // Where nothing in the part is said to turn, the wall is all that is said of a turn.
            let fault = match claims.turns {
                true => Fault::WallDiffers { typed, computed },
                false => Fault::TurnUnsaid { typed, computed },
            };
            findings.push(Finding {
                line: claim.line,
                column: claim.column,
                words: claim.words.clone(),
                fault,
            });
        }
    }
}

/// `same as A on other foot`: it must start on the other foot than A does the first time.
fn check_other_foot(
    claims: &PartClaims,
    lead: Foot,
    first_times: &[Option<&Passage>],
    findings: &mut Vec<Finding>,
) {
    for claim in &claims.other_foot {
        let free = from_lead(claim.from_left, lead);
        let other = first_times.get(claim.part).copied().flatten().map(|p| p.lead_foot);
        if other == Some(free) {
            findings.push(Finding {
                line: claim.line,
                column: claim.column,
                words: claim.words.clone(),
                fault: Fault::SameFootFree { free },
            });
        }
    }
}

/// Parts that the order never names.
fn check_use(
    routine: &Routine,
    first_times: &[Option<&Passage>],
    lines: &[Line<'_>],
    findings: &mut Vec<Finding>,
) {
    // A mistyped name in the order most likely means the part that seems unused; it is told once.
    let meant: HashSet<String> = findings
        .iter()
        .filter_map(|f| match &f.fault {
            Fault::UnknownPart { nearest } => nearest.clone(),
            _ => None,
        })
        .collect();
    let twice: HashSet<usize> = findings
        .iter()
        .filter(|f| matches!(f.fault, Fault::PartTwice { .. }))
        .map(|f| f.line)
        .collect();
    for (part, first) in routine.parts.iter().zip(first_times) {
        if first.is_some() || meant.contains(&part.name) || twice.contains(&part.line) {
            continue;
        }
        let line = part.line.checked_sub(1).and_then(|l| lines.get(l));
        findings.push(Finding {
            line: part.line,
            column: line.map_or(1, |l| l.column(l.indent())),
            words: line.map_or_else(|| part.name.clone(), |l| l.typed.trim().to_string()),
            fault: Fault::PartUnused { part: part.name.clone() },
        });
    }
}

/// Says once for each part that it comes back on the other foot.
fn other_foot(
    routine: &Routine,
    walk: &[Passage],
    first_times: &[Option<&Passage>],
    findings: &mut Vec<Finding>,
) {
    let mut told = HashSet::new();
    for passage in walk {
        let Some(first) = first_times.get(passage.part).copied().flatten() else { continue };
        let Some(part) = routine.parts.get(passage.part) else { continue };
        let danced = part.steps().any(|s| !s.moves.is_empty());
        if danced && passage.lead_foot != first.lead_foot && told.insert(passage.part) {
            let line = routine.order.get(passage.order_index).map_or(part.line, |o| o.line);
            findings.push(Finding {
                line,
                column: 1,
                words: part.name.clone(),
                fault: Fault::OtherFoot {
                    part: part.name.clone(),
                    time_round: passage.time_round,
                    lead: passage.lead_foot,
                },
            });
        }
    }
}
