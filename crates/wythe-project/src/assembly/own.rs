//! Materials and fills of the user's own.

use std::sync::Arc;

use wythe_bands::{Density, FlowResistivity, Standing};
use wythe_partition::{FillMaterial, Material, catalogue};

use super::Assembly;
use super::build_ups::near;
use crate::record::{Record, short};

impl Assembly<'_> {
    pub(super) fn own_material(&mut self, record: &Record) {
        let Some(name) = self.own_name(record) else { return };
        let Some(like) = record.text("like") else { return };
        let Some(base) = catalogue().material(like) else {
            let help = near(
                like,
                catalogue().materials().iter().map(|m| (&m.name, &m.synonyms)),
                &catalogue().nearest_materials(like),
            );
            let text = format!("{}: there is no material `{}`", record.label, short(like));
            self.problem("project::unknown-material", record.at("like"), text, help);
            return;
        };
        let mut material = Material { name, synonyms: Vec::new(), ..base.clone() };
        let source = self.own_source(record);
        let mut own = |figure: &str| {
            material.sources.retain(|(f, _)| f != figure);
            material.sources.push((figure.to_owned(), source.clone()));
        };
        for (key, figure) in
            [("density", "density"), ("critical_frequency", "fc_times_h"), ("loss_factor", "loss")]
        {
            if record.given(key).is_some() {
                own(figure);
            }
        }
        if let Some(density) = record.number("density") {
            material.density = Density(density);
        }
        if let Some(loss) = record.number("loss_factor") {
            material.loss = loss;
        }
        match (record.number("critical_frequency"), record.number("thickness")) {
            (Some(fc), Some(h)) => {
                if !material.fc_times_h.is_finite() {
                    let text = format!(
                        "{}: a sheet like `{}` does not bend and has no critical frequency",
                        record.label, base.name
                    );
                    let help =
                        "take the critical frequency out, or name a board that bends in `like`";
                    self.problem("project::misplaced", record.at("critical_frequency"), text, help);
                    return;
                }
                let product = fc * h;
                // Steel has 12 m/s and soft fibreboard under 100 m/s; nothing solid is far outside.
                if !(3.0..=300.0).contains(&product) {
                    let text = format!(
                        "{}: {fc:.0} Hz at {} mm makes {product:.1} m/s, and boards have 10 to 100 m/s",
                        record.label,
                        1000.0 * h
                    );
                    let help = "check the critical frequency and the thickness it is stated for";
                    self.problem("project::range", record.at("critical_frequency"), text, help);
                    return;
                }
                material.fc_times_h = product;
                // Stated for this very product: what is left is how well it was measured.
                material.spread = material.spread.min(0.1);
                material.stiff_ratio = 1.0;
            }
            (Some(_), None) | (None, Some(_)) => {
                let text = format!(
                    "{}: `critical_frequency` and `thickness` belong together",
                    record.label
                );
                let help =
                    "for example `critical_frequency = \"2500 Hz\", thickness = \"12.5 mm\"`";
                self.problem("project::missing", &record.place, text, help);
                return;
            }
            (None, None) => {}
        }
        self.building.own.materials.push(Arc::new(material));
    }

    pub(super) fn own_fill(&mut self, record: &Record) {
        let Some(name) = self.own_name(record) else { return };
        let Some(like) = record.text("like") else { return };
        let Some(base) = catalogue().fill(like) else {
            let help = near(
                like,
                catalogue().fills().iter().map(|f| (&f.name, &f.synonyms)),
                &catalogue().nearest_fills(like),
            );
            let text = format!("{}: there is no fill `{}`", record.label, short(like));
            self.problem("project::unknown-material", record.at("like"), text, help);
            return;
        };
        let mut fill = FillMaterial { name, synonyms: Vec::new(), ..base.clone() };
        let source = self.own_source(record);
        if let Some(sigma) = record.number("flow_resistivity") {
            fill.flow_resistivity = FlowResistivity(sigma);
            // Measured on this product: batches differ, products no longer.
            fill.spread_factor = fill.spread_factor.min(1.3);
            fill.sources.retain(|(f, _)| f != "flow_resistivity");
            fill.sources.push(("flow_resistivity".to_owned(), source.clone()));
        }
        if let Some(density) = record.number("density") {
            fill.density = Density(density);
            fill.sources.retain(|(f, _)| f != "density");
            fill.sources.push(("density".to_owned(), source.clone()));
        }
        match (record.number("dynamic_stiffness"), record.number("thickness")) {
            (Some(stiffness), Some(thickness)) => {
                fill.dynamic_modulus = Some(stiffness * thickness);
                fill.sources.retain(|(f, _)| f != "dynamic_modulus");
                fill.sources.push(("dynamic_modulus".to_owned(), self.own_source(record)));
            }
            (Some(_), None) | (None, Some(_)) => {
                let text = format!(
                    "{}: `dynamic_stiffness` and `thickness` belong together",
                    record.label
                );
                let help = "for example `dynamic_stiffness = \"15 MN/m3\", thickness = \"20 mm\"`";
                self.problem("project::missing", &record.place, text, help);
                return;
            }
            (None, None) => {}
        }
        self.building.own.fills.push(Arc::new(fill));
    }

    /// The name of an own entry; a message where it is empty, taken or the catalogue's.
    fn own_name(&mut self, record: &Record) -> Option<String> {
        let name = record.text("name")?.trim().to_owned();
        if name.is_empty() || name.chars().count() > 80 {
            let text = format!("{}: the name is empty or longer than 80 letters", record.label);
            self.problem("project::text", record.at("name"), text, "give it a short name");
            return None;
        }
        if catalogue().material(&name).is_some() || catalogue().fill(&name).is_some() {
            let text = format!("{}: `{name}` is a word of the catalogue", record.label);
            let help = "choose another name, so that nobody takes one for the other";
            self.problem("project::twice", record.at("name"), text, help);
            return None;
        }
        self.take("own material", record, "name", &name.to_lowercase());
        Some(name)
    }

    fn own_source(&self, record: &Record) -> String {
        match (record.source(), record.standpoint().standing) {
            (Some(source), _) => source.to_owned(),
            (None, Standing::Known) => "stated as known in the project".to_owned(),
            (None, _) => "the project, source not stated".to_owned(),
        }
    }
}
