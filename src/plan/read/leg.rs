//! Reads a leg of a sling set.

use super::counts::missing_count;
use super::drafts::CountsDraft;
use super::fields::Fields;
use super::load::ProvisionNames;
use super::reader::{Findings, Text, did_you_mean};
use crate::plan::{Chain, ChainMode, Elasticity, Hitch, Leg, Quantity, Stiffness, limits};
use std::ops::Range;
use uom::si::f64::{Length, Mass, Ratio};

/// Keys that a chain alone has.
const OF_A_CHAIN: [&str; 4] = ["links", "link_pitch", "chain_mode", "count_table"];

/// What the legs lean on elsewhere in the plan.
pub(super) struct Around<'a> {
    pub provisions: &'a ProvisionNames,
    pub stations: &'a [Text],
    pub counts: &'a [CountsDraft],
}

/// What a table of a leg, or the table for each leg, says.
pub(super) struct LegParts {
    place: String,
    span: Range<usize>,
    pub number: Option<(u32, Range<usize>)>,
    provision: Option<Text>,
    station: Option<Text>,
    rating: Option<Quantity<Mass>>,
    length: Option<Quantity<Length>>,
    rope: Option<Quantity<Length>>,
    chain: Option<Quantity<Length>>,
    link_pitch: Option<Quantity<Length>>,
    chain_mode: Option<ChainMode>,
    links: Option<(u32, Range<usize>)>,
    count_table: Option<Text>,
    hardware: Option<Quantity<Length>>,
    elasticity: Option<Elasticity>,
    /// Whether it is a choker.
    choker: Option<bool>,
    /// Share of the rating that a choker keeps, at the worst of its plus and minus.
    choker_keeps: Option<f64>,
    /// Where that is written.
    keeps_span: Range<usize>,
    /// Keys that are there, readable or not.
    written: Vec<&'static str>,
}

impl LegParts {
    pub fn read(r: &mut Findings, mut f: Fields<'_>, each: bool) -> Self {
        const KEYS: [&str; 14] = [
            "number",
            "provision",
            "station",
            "rating",
            "length",
            "rope",
            "chain",
            "link_pitch",
            "chain_mode",
            "links",
            "count_table",
            "hardware",
            "stretch_at_rating",
            "choker_keeps",
        ];
        let written = KEYS.into_iter().filter(|k| f.has(k)).collect();
        let (number, provision, station) = if each {
            (None, None, None)
        } else {
            if !f.has("number") {
                f.missing(r, "number", "N, one that no other leg has");
            }
            #[expect(clippy::cast_possible_truncation, reason = "a small constant")]
            let number = f.whole(r, "number", 1..=limits::LEGS as u32);
            (
                number,
                f.need_text(r, "provision", "front-left"),
                f.need_text(r, "station", "front-left"),
            )
        };
        let stiffness = f.positive::<Stiffness>(r, "stiffness");
        let stretch = f.positive::<Ratio>(r, "stretch_at_rating");
        let off = stiffness.as_ref().is_some_and(|q| q.plus_minus.value > 0.0);
        if off || stretch.as_ref().is_some_and(|q| q.plus_minus.value > 0.0) {
            let key = if off {
                "stiffness"
            } else {
                "stretch_at_rating"
            };
            r.error(
                &f.key_span(key),
                format!("{} gives a plus or minus for {key}, which is not weighed", f.place),
                "one number is wanted",
                "give the least that a leg may stretch, which loads single legs most; or leave it out: then verdicts hold \
                 with the usual stretch and with none",
            );
        }
        if f.has("stiffness") && f.has("stretch_at_rating") {
            r.error(
                &f.key_span("stretch_at_rating"),
                format!("{} gives both stiffness and stretch_at_rating", f.place),
                "the same thing twice",
                "keep the one that the maker gives",
            );
        }
        let choker = f.choice(r, "hitch", &[("straight", false), ("choker", true)]);
        let parts = Self {
            choker,
            choker_keeps: read_keeps(r, &mut f),
            keeps_span: f.key_span("choker_keeps"),
            place: f.place.clone(),
            span: f.span.clone(),
            number,
            provision,
            station,
            rating: f.positive(r, "rating"),
            length: f.positive(r, "length"),
            rope: f.positive(r, "rope"),
            chain: f.positive(r, "chain"),
            link_pitch: f.positive(r, "link_pitch"),
            chain_mode: f.choice(
                r,
                "chain_mode",
                &[("looped", ChainMode::Looped), ("direct", ChainMode::Direct)],
            ),
            links: f.whole(r, "links", 0..=limits::COUNT),
            count_table: f.text(r, "count_table", "hook-links"),
            hardware: f.positive(r, "hardware"),
            elasticity: stiffness
                .map(Elasticity::Stiffness)
                .or(stretch.map(Elasticity::StretchAtRating)),
            written,
        };
        f.finish(r);
        parts
    }

    fn wrote(&self, key: &str) -> bool {
        self.written.contains(&key)
    }

    /// The table named by this leg, or by all. A leg's own links take the place of the table of all.
    pub fn count_table(&self, each: Option<&Self>) -> Option<Text> {
        self.count_table
            .clone()
            .or_else(|| each.and_then(|e| e.count_table.clone()))
    }

    pub fn into_leg(
        self,
        r: &mut Findings,
        each: Option<&Self>,
        around: &Around<'_>,
        set: Option<&Text>,
    ) -> Option<Leg> {
        let written = |key: &str| self.wrote(key) || each.is_some_and(|e| e.wrote(key));
        let lacks = |r: &mut Findings, key: &str, example: &str| {
            r.misfit(
                &self.span,
                format!("`{key}` is missing in {}", self.place),
                "",
                format!("add {key} = {example} here, or in [sling_set.each_leg] for all legs"),
            );
        };
        if !written("rating") {
            lacks(r, "rating", "\"1500 kg\"");
        }
        self.check_names(r, around);
        // A plain length of this leg stands for rope and chain of all legs, and the other way round.
        let plain = self.wrote("length") || !(written("rope") || written("chain"));
        let both = |of: &Self| of.wrote("length") && (of.wrote("rope") || of.wrote("chain"));
        if both(&self) || each.is_some_and(both) {
            r.error(
                &self.span,
                format!("{} gives a plain length and also rope or chain", self.place),
                "two lengths",
                "write length for a plain leg, rope and chain for an adjustable one",
            );
            return None;
        }
        let count_table = self.count_table(each);
        // A count table of this leg's own stands before the links of all legs.
        let of_each = each.filter(|_| self.count_table.is_none());
        let own = self
            .links
            .clone()
            .or_else(|| of_each.and_then(|e| e.links.clone()));
        let links = self.planned_links(r, own, count_table.as_ref(), around, set);
        let pick = |own: Option<Quantity<Length>>,
                    of_each: fn(&Self) -> &Option<Quantity<Length>>| {
            own.or_else(|| each.and_then(|e| of_each(e).clone()))
        };
        let fixed_length = if plain {
            if !written("length") {
                lacks(r, "length", "\"4 m\" (or rope and chain)");
            }
            pick(self.length.clone(), |e| &e.length)
        } else {
            if !written("rope") {
                lacks(
                    r,
                    "rope",
                    "\"0.2 m\" (all that is no chain: rope, hook, ring)",
                );
            }
            pick(self.rope.clone(), |e| &e.rope)
        };
        let has_chain = !plain && written("chain");
        let chain = if has_chain {
            if !written("link_pitch") {
                lacks(r, "link_pitch", "\"24 mm\"");
            }
            if !written("chain_mode") {
                lacks(r, "chain_mode", "\"looped\" or \"direct\"");
            }
            let length = pick(self.chain.clone(), |e| &e.chain);
            let pitch = pick(self.link_pitch.clone(), |e| &e.link_pitch);
            let mode = self.chain_mode.or_else(|| each.and_then(|e| e.chain_mode));
            if links.is_none() && !written("links") && count_table.is_none() {
                lacks(r, "links", "3 (or count_table = \"hook-links\")");
            }
            match (length, pitch, mode, links) {
                (Some(length), Some(link_pitch), Some(mode), Some((links, span))) => {
                    check_chain(r, &length, &link_pitch, links, &span);
                    Some(Chain {
                        length,
                        link_pitch,
                        mode,
                        links,
                    })
                }
                _ => None,
            }
        } else {
            if OF_A_CHAIN.iter().any(|key| self.wrote(key)) {
                r.misfit(
                    &self.span,
                    format!("{} counts links but has no chain", self.place),
                    "",
                    "add chain = \"2.4 m\", or take the links out",
                );
            }
            None
        };
        let hitch = self.hitch(r, each);
        let hardware = pick(self.hardware.clone(), |e| &e.hardware);
        let elasticity = self
            .elasticity
            .clone()
            .or_else(|| each.and_then(|e| e.elasticity.clone()));
        let rating = self
            .rating
            .clone()
            .or_else(|| each.and_then(|e| e.rating.clone()));
        if has_chain && chain.is_none() {
            return None;
        }
        Some(Leg {
            number: self.number.as_ref()?.0,
            provision: self.provision.as_ref()?.value.clone(),
            station: self.station.as_ref()?.value.clone(),
            rating: rating?,
            fixed_length: fixed_length?,
            chain,
            hardware,
            elasticity,
            hitch,
            count_check: None,
            span: self.span.clone(),
        })
    }

    /// How the lower end is made fast: each key of the leg's own, or that of all.
    fn hitch(&self, r: &mut Findings, each: Option<&Self>) -> Hitch {
        let choker = self.choker.or_else(|| each.and_then(|e| e.choker));
        if choker == Some(true) {
            let keeps = self
                .choker_keeps
                .or_else(|| each.and_then(|e| e.choker_keeps));
            return Hitch::Choker {
                keeps: keeps.unwrap_or(Hitch::CHOKER_KEEPS),
            };
        }
        if self.wrote("choker_keeps") {
            r.error(
                &self.keeps_span,
                format!("{} says what a choker keeps but has none", self.place),
                "no choker here",
                "add hitch = \"choker\", or take choker_keeps out",
            );
        }
        Hitch::Straight
    }

    /// `choker_keeps` for all legs belongs to a choker; `own`: whether a leg is one by its own key.
    pub fn check_keeps(&self, r: &mut Findings, own: bool) {
        if self.wrote("choker_keeps") && !own && self.choker != Some(true) {
            r.error(
                &self.keeps_span,
                format!("{} says what a choker keeps but has none", self.place),
                "no choker in any leg",
                "add hitch = \"choker\", or take choker_keeps out",
            );
        }
    }

    /// What is written of a chain for all legs belongs to a chain; `own`: whether a leg has one by its own key.
    pub fn check_chain_keys(&self, r: &mut Findings, own: bool) {
        if !own && !self.wrote("chain") && OF_A_CHAIN.iter().any(|key| self.wrote(key)) {
            r.misfit(
                &self.span,
                format!("{} counts links, but no leg has a chain", self.place),
                "",
                "add chain = \"2.4 m\", or take the links out",
            );
        }
    }

    /// Whether this table has a chain of its own.
    pub fn has_chain(&self) -> bool {
        self.wrote("chain")
    }

    /// Whether this table itself says that it is a choker.
    pub fn is_choker(&self) -> bool {
        self.choker == Some(true)
    }

    fn check_names(&self, r: &mut Findings, around: &Around<'_>) {
        if let Some(p) = &self.provision
            && !around.provisions.knows(&p.value)
        {
            r.misfit(
                &p.span,
                format!("there is no lifting provision `{}`", p.value),
                "not a provision of load or spreader",
                did_you_mean(
                    &p.value,
                    around.provisions.0.iter().map(|n| n.value.as_str()),
                ),
            );
        }
        if let Some(s) = &self.station
            && !around.stations.iter().any(|k| k.value == s.value)
        {
            r.misfit(
                &s.span,
                format!("there is no station `{}`", s.value),
                "not the key of a station",
                did_you_mean(&s.value, around.stations.iter().map(|k| k.value.as_str())),
            );
        }
    }

    /// The planned count, from a line or from the leg's count table; both must agree.
    fn planned_links(
        &self,
        r: &mut Findings,
        links: Option<(u32, Range<usize>)>,
        table: Option<&Text>,
        around: &Around<'_>,
        set: Option<&Text>,
    ) -> Option<(u32, Range<usize>)> {
        let from_table = match (table, set, &self.station) {
            (Some(table), Some(set), Some(station)) => around
                .counts
                .iter()
                .find(|t| t.table.name == table.value)
                .and_then(|t| t.table.count(&set.value, &station.value)),
            _ => None,
        };
        if let (Some((own, span)), Some(listed)) = (&links, from_table)
            && *own != listed
        {
            r.misfit(
                span,
                format!("this leg has {own} links in the hook, but its count table says {listed}"),
                "two different counts",
                "keep one of the two; the table is what the inspector is checked against",
            );
        }
        if let (None, None, Some(table), Some(set), Some(station)) =
            (&links, from_table, table, set, &self.station)
            && around.stations.iter().any(|s| s.value == station.value)
        {
            missing_count(r, around.counts, table, &set.value, &station.value);
        }
        links.or_else(|| from_table.zip(table.map(|t| t.span.clone())))
    }
}

/// What a choker keeps of the rating, as a share, at the worst.
fn read_keeps(r: &mut Findings, f: &mut Fields<'_>) -> Option<f64> {
    let share = f.positive::<Ratio>(r, "choker_keeps")?;
    if share.value.value >= 1.0 {
        r.error(
            &share.span,
            "a choker keeps less than the whole rating",
            "must be under 100 percent",
            "write what the maker gives: choker_keeps = \"75 percent\", say",
        );
        return None;
    }
    Some(share.value.value - share.plus_minus.value)
}

fn check_chain(
    r: &mut Findings,
    length: &Quantity<Length>,
    pitch: &Quantity<Length>,
    links: u32,
    span: &Range<usize>,
) {
    if pitch.value >= length.value {
        r.misfit(
            &pitch.span,
            "one link is as long as the whole chain",
            "check number and unit",
            "write the inside length of one link: link_pitch = \"24 mm\"",
        );
    } else if links > Chain::links_max(length, pitch) {
        r.misfit(
            span,
            format!(
                "link {links} is beyond the end of a chain of {} with a pitch of {}",
                length.text, pitch.text
            ),
            "more links than the chain has to give: the last stays on the leg",
            "check the count, the chain's length and the pitch",
        );
    }
}
