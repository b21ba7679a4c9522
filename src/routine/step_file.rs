//! Files of a user's own steps, for every sheet: `Lantern Kick = DS K DS RS`, a step a line.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use crate::error::{Error, Result};

use super::finding::{Fault, Finding};
use super::model::StepUse;
use super::parse::{steps_defined, steps_files_named};
use super::read::load_text;

/// Steps from files, by the keys of their names.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct StepFiles {
    pub(super) steps: BTreeMap<String, StepUse>,
}

impl StepFiles {
    /// Reads files of steps. Two files may hold the same step, but not one name danced in two ways.
    ///
    /// # Errors
    /// Those of reading a text, and [`Error::Routine`] with every line that is no step, and every name that
    /// stands for two steps.
    pub fn load(paths: &[PathBuf]) -> Result<StepFiles> {
        let mut all = StepFiles::default();
        for path in paths {
            let text = load_text(path)?;
            let (steps, mut findings) = steps_defined(&text, &all);
            for (key, (step, line)) in steps {
                match all.steps.get(&key) {
                    Some(first) if first.movements != step.movements => findings.push(Finding {
                        line,
                        column: 1,
                        words: step.name.clone(),
                        fault: Fault::StepTwice {
                            first_line: 0,
                            movements: first.movements.clone(),
                        },
                    }),
                    _ => {
                        all.steps.insert(key, step);
                    }
                }
            }
            let wrong: Vec<String> =
                findings.iter().filter(|f| f.stops()).map(ToString::to_string).collect();
            if !wrong.is_empty() {
                return Err(Error::Routine { path: path.clone(), findings: wrong });
            }
        }
        Ok(all)
    }

    /// Those files and the ones that a sheet names in a line `Steps: FILE`, looked for beside the sheet.
    pub(super) fn for_sheet(text: &str, sheet: &Path, paths: &[PathBuf]) -> Result<StepFiles> {
        let beside = sheet.parent().unwrap_or(Path::new(""));
        let mut all: Vec<PathBuf> = paths.to_vec();
        all.extend(steps_files_named(text).iter().map(|name| beside.join(name)));
        StepFiles::load(&all)
    }

    /// How many steps.
    pub fn len(&self) -> usize {
        self.steps.len()
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.steps.is_empty()
    }
}

#[cfg(test)]
mod tests {
    use super::super::parse::parse_with;
    use super::*;

    fn file(folder: &tempfile::TempDir, name: &str, text: &str) -> PathBuf {
        let path = folder.path().join(name);
        std::fs::write(&path, text).unwrap();
        path
    }

    #[test]
    fn steps_of_a_file_are_used_and_a_clash_is_said() {
        let folder = tempfile::tempdir().unwrap();
        let mine = file(
            &folder,
            "mine.txt",
            "# ours\nLantern Kick: DS K DS RS\nCowboy = DS DS DS RS DS DS DS RS\n",
        );
        let steps = StepFiles::load(&[mine]).unwrap();
        assert_eq!(steps.len(), 2);
        let (routine, findings) = parse_with("Part A (12)\nLantern Kick\nCowboy\n", &steps);
        assert_eq!(routine.counts(), 12);
        assert_eq!(findings.len(), 1, "{findings:?}");
        assert!(findings[0].to_string().contains("your file"), "{}", findings[0]);
        assert!(!findings[0].is_mistake());
    }

    #[test]
    fn one_name_danced_in_two_ways_must_say_which() {
        let folder = tempfile::tempdir().unwrap();
        let both = "Ferry (Ohio) = DS DS RS RS\nFerry (Texas) = DS DS DS RS\n";
        let steps = StepFiles::load(&[file(&folder, "a.txt", both)]).unwrap();
        let (_, findings) = parse_with("Part A (4)\nFerry\n", &steps);
        assert!(
            findings.iter().any(|f| f.is_mistake() && f.to_string().contains("Ferry (Ohio)")),
            "{findings:?}"
        );
        let (routine, findings) = parse_with("Part A (4)\nFerry (Texas)\n", &steps);
        assert!(findings.is_empty(), "{findings:?}");
        assert!(routine.parts[0].effect().swaps_free_foot);
        let meant = format!("{both}Ferry = Ferry (Ohio)\n");
        let steps = StepFiles::load(&[file(&folder, "b.txt", &meant)]).unwrap();
        let (routine, findings) = parse_with("Part A (4)\nFerry\n", &steps);
        assert!(findings.is_empty(), "{findings:?}");
        assert!(!routine.parts[0].effect().swaps_free_foot);
    }

    #[test]
    fn files_that_do_not_agree_are_refused() {
        let folder = tempfile::tempdir().unwrap();
        let a = file(&folder, "a.txt", "Ferry = DS DS RS RS\n");
        let b = file(&folder, "b.txt", "Ferry = DS DS DS RS\n");
        assert!(matches!(StepFiles::load(&[a, b]), Err(Error::Routine { .. })));
        let bad = file(&folder, "c.txt", "Ferry = DS DS XQ\nsomething else\n");
        let Err(Error::Routine { findings, .. }) = StepFiles::load(&[bad]) else { panic!() };
        assert_eq!(findings.len(), 2, "{findings:?}");
    }
}
