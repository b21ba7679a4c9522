//! The aligner against trying every way there is.

use super::align::{align, lay_order};
use super::ground::{Ground, Item, items};
use super::judgement::{self, OTHER_KIND};
use super::testing::{Dice, routine, song};
use crate::routine::PartKind;

/// Price of one whole way, straight from the definitions: no table, no homes, no branches.
fn price_of(ground: &Ground, items: &[Item], stated_wait: Option<u32>, starts: &[i32]) -> u32 {
    let mut price = judgement::start(ground, &items[0], stated_wait, starts[0]);
    let mut sorts: Vec<(usize, u16)> = Vec::new();
    let left_out = |i: usize| i + 1 < items.len() && starts[i] == starts[i + 1];
    for (i, item) in items.iter().enumerate() {
        let (start, end) = (starts[i], starts[i] + item.counts);
        if start >= ground.end {
            let rest: i32 = items[i..].iter().map(|i| i.counts).sum();
            price += judgement::ends_first(start + rest - ground.end);
            break;
        }
        if left_out(i) {
            price += judgement::left_out(item);
            continue;
        }
        let phrase_start = ground.span(start).start;
        let begun = (0..i).any(|j| starts[j] == phrase_start && !left_out(j) && !items[j].fill);
        let entry = judgement::entry(ground, item, start, begun);
        price += judgement::entry_price(entry) + judgement::dancing(ground, item, start);
        let next = starts.get(i + 1).copied();
        let cut_at_phrase_end = next.is_some_and(|n| n < end && n <= ground.span(start).end);
        if judgement::straddles(ground, item, start, entry) && !cut_at_phrase_end {
            price += judgement::off_phrase(ground.beside(start));
        }
        match next {
            Some(next) if next >= end => price += judgement::gap(next - end),
            Some(next) => price += judgement::overrun(end - next),
            None if end >= ground.end => price += judgement::ends_first(end - ground.end),
            None => price += judgement::left_over(ground.end - end),
        }
        if !item.fill {
            sorts.push((item.part, ground.span(start).kind));
        }
    }
    for part in 0..=items.iter().map(|i| i.part).max().unwrap() {
        let times = |kind| sorts.iter().filter(|&&s| s == (part, kind)).count();
        let all = sorts.iter().filter(|s| s.0 == part).count();
        let most = (0..ground.kinds.len() as u16).map(times).max().unwrap();
        price += (all - most) as u32 * OTHER_KIND;
    }
    price
}

/// Least price over all ways, each written out in full.
fn least_by_trying_all(ground: &Ground, items: &[Item], stated_wait: Option<u32>) -> (u32, u64) {
    fn go(
        ground: &Ground,
        items: &[Item],
        wait: Option<u32>,
        starts: &mut Vec<i32>,
        best: &mut (u32, u64),
    ) {
        if starts.len() == items.len() {
            best.0 = best.0.min(price_of(ground, items, wait, starts));
            best.1 += 1;
            return;
        }
        let phrases = ground.spans.iter().map(|s| s.start);
        let mut next: Vec<i32> = match starts.last() {
            None => phrases.chain(wait.map(|w| w as i32 + 1).filter(|&s| s < ground.end)).collect(),
            Some(&start) => {
                let item = &items[starts.len() - 1];
                let mut next = vec![start + item.counts];
                if start < ground.end {
                    next.extend(phrases.filter(|&p| p > start));
                    if item.fill || ground.is_start(start) {
                        next.push(start);
                    }
                }
                next
            }
        };
        next.sort_unstable();
        next.dedup();
        for start in next {
            starts.push(start);
            go(ground, items, wait, starts, best);
            starts.pop();
        }
    }
    let mut best = (u32::MAX, 0);
    go(ground, items, stated_wait, &mut Vec::new(), &mut best);
    best
}

#[test]
fn no_way_is_better_than_the_one_found() {
    let labels = ["intro", "verse", "chorus", "bridge"];
    let names = [
        ("Part A", PartKind::Part),
        ("Chorus", PartKind::Part),
        ("Fill", PartKind::Fill),
        ("Break", PartKind::Break),
        ("Part D", PartKind::Part),
        ("Intro", PartKind::Intro),
    ];
    let mut dice = Dice::new(7);
    let (mut ways, mut with_astray) = (0, 0);
    for case in 0..10_000 {
        // Small lengths make for many coincidences; they are scaled so that halves and eights occur.
        let scale = [1, 4, 8][dice.roll(3)];
        let phrases: Vec<(&str, u32)> = (0..1 + dice.roll(7))
            .map(|_| (labels[dice.roll(labels.len())], scale * (1 + dice.roll(6) as u32)))
            .collect();
        let parts: Vec<(&str, PartKind, u32)> = (0..1 + dice.roll(3))
            .map(|_| {
                let (name, kind) = names[dice.roll(names.len())];
                (name, kind, scale * (1 + dice.roll(6) as u32))
            })
            .collect();
        let order: Vec<usize> = (0..1 + dice.roll(6)).map(|_| dice.roll(parts.len())).collect();
        let wait = (dice.roll(2) == 0).then(|| scale * dice.roll(6) as u32);
        let song = song(&phrases);
        let routine = routine(wait, &parts, &order);
        let ground = Ground::new(&song);
        let items = items(&ground, &routine);
        let found = align(&ground, &items, wait);
        let (least, tried) = least_by_trying_all(&ground, &items, wait);
        let about = || format!("case {case}: {phrases:?} {parts:?} {order:?} {wait:?} {found:?}");
        assert!(found.exact, "{}", about());
        assert_eq!(found.price, least, "{}", about());
        assert_eq!(price_of(&ground, &items, wait, &found.starts), least, "{}", about());
        ways += tried;
        let repeated = order.iter().enumerate().any(|(i, p)| order[..i].contains(p));
        with_astray += u32::from(repeated && ground.kinds.len() > 1);
    }
    assert!(ways > 1_000_000, "only {ways} ways were tried");
    assert!(with_astray > 3_000, "only {with_astray} cases bind the sorts of phrase");
}

#[test]
fn a_changed_order_is_laid_as_if_it_were_new() {
    let labels = ["intro", "verse", "chorus", "bridge"];
    let mut dice = Dice::new(17);
    let (mut cases, mut too_dear) = (0, 0);
    for _ in 0..1_500 {
        let phrases: Vec<(&str, u32)> = (0..2 + dice.roll(9))
            .map(|_| (labels[dice.roll(labels.len())], 4 * (1 + dice.roll(9) as u32)))
            .collect();
        let names = ["Part A", "Chorus", "Fill", "Break", "Verse"];
        let kinds =
            [PartKind::Part, PartKind::Part, PartKind::Fill, PartKind::Break, PartKind::Part];
        let parts: Vec<(&str, PartKind, u32)> =
            (0..5).map(|n| (names[n], kinds[n], 4 * (1 + dice.roll(8) as u32))).collect();
        let order: Vec<usize> = (0..2 + dice.roll(9)).map(|_| dice.roll(parts.len())).collect();
        let wait = (dice.roll(2) == 0).then(|| 4 * dice.roll(8) as u32);
        let song = song(&phrases);
        let ground = Ground::new(&song);
        let before = items(&ground, &routine(wait, &parts, &order));
        let laying = lay_order(&ground, &before, wait, judgement::NEVER - 1);
        for _ in 0..6 {
            let mut changed = order.clone();
            let mut then = wait;
            for _ in 0..1 + dice.roll(2) {
                let at = dice.roll(changed.len());
                match dice.roll(5) {
                    0 => changed.insert(at, dice.roll(parts.len())),
                    1 if changed.len() > 1 => _ = changed.remove(at),
                    2 => changed[at] = dice.roll(parts.len()),
                    3 => changed.push(dice.roll(parts.len())),
                    _ => then = Some(4 * dice.roll(8) as u32),
                }
            }
            let after = items(&ground, &routine(then, &parts, &changed));
            let anew = lay_order(&ground, &after, then, judgement::NEVER - 1).way;
            let about = || format!("{phrases:?} {parts:?} {order:?} {changed:?} {wait:?} {then:?}");
            let found = laying.lay_changed(&ground, &before, &after, then, judgement::NEVER);
            assert_eq!(found.as_ref(), Some(&anew), "{}", about());
            let limit = laying.way.price;
            let found = laying.lay_changed(&ground, &before, &after, then, limit);
            assert_eq!(found.as_ref(), Some(&anew).filter(|w| w.price <= limit), "{}", about());
            cases += 1;
            too_dear += u32::from(anew.price > limit);
        }
    }
    assert!(cases == 9_000 && too_dear > 1_000 && too_dear < 8_000, "{too_dear} of {cases}");
}
