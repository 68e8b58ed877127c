//! The building that changes are judged on: as the recordings show it, where there are some.

use std::path::Path;

use wythe_bands::Remark;
use wythe_building::Building;
use wythe_findings::{Explained, Measured, explain, statements};
use wythe_project::Project;
use wythe_remedy::{Asked, Counting, PriceList, Remedies, as_found, buying, priced_own};
use wythe_transmission::Cache;

use crate::failure::Failure;
use crate::measuring;

/// The building as found or as described, and how it came to be so.
pub struct Found {
    /// What changes are judged on.
    pub building: Building,
    /// What was found, as sentences; empty where the description stands.
    pub findings: Vec<String>,
    /// Whether recordings were asked at all.
    pub by_recordings: bool,
    /// Everything the comparison gave.
    pub explained: Option<Explained>,
    /// The recordings.
    pub measured: Option<Measured>,
    /// What has to be said.
    pub said: Vec<Remark>,
}

impl Found {
    /// Measures and compares where there are recordings, unless the description is asked for.
    pub fn new(folder: &Path, project: &Project, as_described: bool) -> Found {
        let mut out = Found::unpriced(folder, project, as_described);
        out.building = with_prices(out.building);
        out
    }

    fn unpriced(folder: &Path, project: &Project, as_described: bool) -> Found {
        let mut out = Found {
            building: project.building.clone(),
            findings: Vec::new(),
            by_recordings: false,
            explained: None,
            measured: None,
            said: Vec::new(),
        };
        let recorded = project.survey.as_ref().is_some_and(|s| !s.recordings.is_empty());
        if as_described || !recorded {
            return out;
        }
        match out.compare(folder, project) {
            Ok(()) => {}
            Err(why) => out.said.push(Remark::new(
                "found::as-described",
                format!("the recordings could not be used, so the description stands: {why}"),
            )),
        }
        out
    }

    fn compare(&mut self, folder: &Path, project: &Project) -> Result<(), String> {
        let measured = measuring::measure(folder, project).map_err(|e| match e {
            Failure::Messages(all) => {
                all.first().and_then(|m| m.lines().next()).unwrap_or("no reason given").to_owned()
            }
            Failure::PipeClosed | Failure::Stopped => "interrupted".to_owned(),
        })?;
        let trials = measured.trials();
        if trials.is_empty() {
            return Err("no pair of rooms was measured".into());
        }
        let explained = explain(&project.building, &trials, &mut Cache::default())
            .map_err(|e| e.to_string())?;
        let (building, which) = as_found(&project.building, &explained.posterior);
        self.findings = statements(&explained.posterior)
            .into_iter()
            .filter(|s| s.findings.iter().any(|i| which.contains(i)))
            .map(|s| s.text.split("; it counts").next().unwrap_or_default().to_owned())
            .collect();
        self.building = building;
        self.by_recordings = true;
        self.measured = Some(measured);
        self.explained = Some(explained);
        Ok(())
    }

    /// One word for programs.
    pub fn word(&self) -> &'static str {
        if self.by_recordings { "as found" } else { "as described" }
    }

    /// The same as a sentence.
    pub fn sentence(&self) -> String {
        match (self.by_recordings, self.findings.as_slice()) {
            (false, _) => "Judged on the building as described.".into(),
            (true, []) => "Judged on the building as described, which the recordings bear out; \
                           --as-described leaves them out."
                .into(),
            (true, found) => format!(
                "Judged on the building as the recordings show it: {}. With --as-described it is \
                 judged as the project describes it.",
                found.join("; ")
            ),
        }
    }
}

/// The building with a cost for every change that states none and whose lines the project's own
/// prices cover.
pub fn with_prices(building: Building) -> Building {
    let prices = PriceList(building.prices.clone());
    priced_own(building, &Counting::default(), &prices)
}

/// Counts the buying list of a plan on the building as described: of a board that was found lighter
/// than it should be nobody knows yet how thick it is.
pub fn count_as_described(plan: &mut Remedies, described: &Building, asked: &Asked) {
    let of_the_list = |code: &str| {
        matches!(code, "remedy::not-counted" | "remedy::geometry-assumed" | "remedy::comes-out")
    };
    let prices = asked.prices.clone().with(&described.prices);
    plan.remarks.retain(|r| !of_the_list(r.code));
    plan.buying = buying(described, &plan.plan.changes, &asked.counting, &prices);
    plan.remarks.extend(plan.buying.remarks.iter().cloned());
}
