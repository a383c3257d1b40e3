//! Reads `[sling_set]`.

use super::fields::Fields;
use super::load::{ProvisionNames, check_key};
use super::reader::{Findings, Text, did_you_mean};
use crate::plan::{
    Apex, Carrying, Chain, ChainMode, CountTable, Elasticity, Leg, Quantity, SlingSet, Stiffness,
    limits,
};
use std::ops::Range;
use uom::si::f64::{Length, Mass, Ratio};

/// What the legs lean on elsewhere in the plan.
pub(super) struct Around<'a> {
    pub provisions: &'a ProvisionNames,
    pub stations: &'a [Text],
    pub counts: &'a [CountTable],
}

/// A sling set, with the name of the count table and the place of its mention for each leg.
pub(super) struct ReadSlings {
    pub set: Option<SlingSet>,
    /// The set's key, even where the rest could not be read.
    pub key: Option<Text>,
    pub leg_tables: Vec<Option<Text>>,
}

pub(super) fn read_sling_set(
    r: &mut Findings,
    mut f: Fields<'_>,
    around: &Around<'_>,
) -> ReadSlings {
    let name = f.need_text(r, "name", "four-leg set");
    let key = f.need_text(r, "key", "4-leg");
    if let Some(key) = &key {
        check_key(r, "the key of a sling set", key);
    }
    let rated_capacity = f.need_positive::<Mass>(r, "rated_capacity");
    let mass = f.need_positive::<Mass>(r, "mass");
    let carrying = read_carrying(r, &mut f);
    let apex = f.table(r, "apex").map(|a| read_apex(r, a));
    let max_tension_ratio = match f.number(r, "max_tension_ratio") {
        Some((ratio, span)) if ratio <= 1.0 => {
            r.error(
                &span,
                "`max_tension_ratio` must be more than 1",
                "greatest tension over least",
                "write max_tension_ratio = 2.0, say",
            );
            None
        }
        other => other.map(|(ratio, _)| ratio),
    };
    if !f.has("number_of_legs") {
        f.missing(r, "number_of_legs", "4");
    }
    #[expect(clippy::cast_possible_truncation, reason = "a small constant")]
    let wanted = f.whole(r, "number_of_legs", 1..=limits::LEGS as u32);
    let each = f.table(r, "each_leg").map(|t| LegParts::read(r, t, true));
    let tables = f.tables(r, "leg");
    let mut legs = Some(Vec::new());
    let mut leg_tables = Vec::new();
    let mut numbers: Vec<(u32, Range<usize>)> = Vec::new();
    let count = tables.len();
    for table in tables.into_iter().take(2 * limits::LEGS) {
        let parts = LegParts::read(r, table, false);
        if let Some((number, span)) = &parts.number {
            if numbers.iter().any(|(n, _)| n == number) {
                r.error(
                    span,
                    format!("two legs have the number {number}"),
                    "the same number again",
                    "number the legs 1, 2, 3 and so on, each once",
                );
            }
            numbers.push((*number, span.clone()));
        }
        let table = parts.count_table(each.as_ref());
        let leg = parts.into_leg(r, each.as_ref(), around, key.as_ref());
        match (leg, &mut legs) {
            (Some(leg), Some(all)) => {
                all.push(leg);
                leg_tables.push(table);
            }
            _ => legs = None,
        }
    }
    check_numbers(r, &f, wanted.as_ref(), count, &numbers);
    let span = f.span.clone();
    f.finish(r);

    let mut order: Vec<(Leg, Option<Text>)> = legs.into_iter().flatten().zip(leg_tables).collect();
    order.sort_by_key(|(leg, _)| leg.number);
    let (legs, leg_tables): (Vec<Leg>, Vec<Option<Text>>) = order.into_iter().unzip();
    warn_of_shared_provisions(r, &legs);
    let set = (|| {
        let (carrying, carrying_statement) = carrying?;
        Some(SlingSet {
            name: name?.value,
            key: key.as_ref()?.value.clone(),
            rated_capacity: rated_capacity?,
            mass: mass?,
            carrying,
            carrying_statement,
            apex: apex.flatten(),
            legs,
            max_tension_ratio,
            span,
        })
    })();
    ReadSlings {
        set,
        key,
        leg_tables,
    }
}

fn read_carrying(r: &mut Findings, f: &mut Fields<'_>) -> Option<(Carrying, Option<String>)> {
    let carrying = f.choice(
        r,
        "carrying",
        &[
            ("two", Carrying::Two),
            ("three", Carrying::Three),
            ("all", Carrying::All),
        ],
    );
    let statement = f.text(
        r,
        "carrying_statement",
        "rig certified with all legs sharing, certificate 12 of the rigging engineer",
    );
    if !f.has("carrying") {
        return Some((Carrying::Two, statement.map(|s| s.value)));
    }
    if carrying == Some(Carrying::All) && !f.has("carrying_statement") {
        r.misfit(
            &f.key_span("carrying"),
            "all legs are said to carry, but nobody is named who certified it",
            "needs a statement",
            "add carrying_statement = \"who certified that all legs share, and where it is \
             written\", or write carrying = \"two\"",
        );
    }
    carrying.map(|c| (c, statement.map(|s| s.value)))
}

fn read_apex(r: &mut Findings, mut f: Fields<'_>) -> Option<Apex> {
    let name = f.need_text(r, "name", "apex ring");
    let rating = f.positive::<Mass>(r, "rating");
    let height = f.positive::<Length>(r, "height");
    f.finish(r);
    Some(Apex {
        name: name?.value,
        rating,
        height,
    })
}

fn check_numbers(
    r: &mut Findings,
    f: &Fields<'_>,
    wanted: Option<&(u32, Range<usize>)>,
    count: usize,
    numbers: &[(u32, Range<usize>)],
) {
    let Some((wanted, span)) = wanted else { return };
    let missing: Vec<String> = (1..=*wanted)
        .filter(|n| !numbers.iter().any(|(m, _)| m == n))
        .map(|n| n.to_string())
        .collect();
    if (count as u64) < u64::from(*wanted) {
        r.misfit(
            span,
            format!("the set has {wanted} legs, but the plan describes {count}"),
            if missing.len() == 1 {
                format!("leg {} is missing", missing[0])
            } else {
                format!("legs {} are missing", missing.join(", "))
            },
            "add a [[sling_set.leg]] for each missing leg, or put the number right",
        );
    } else if count as u64 > u64::from(*wanted) {
        r.misfit(
            span,
            format!("the set has {wanted} legs, but the plan describes {count}"),
            "fewer than described",
            "put the number right, or take out the [[sling_set.leg]] that is not there",
        );
    } else if let Some((number, span)) = numbers.iter().find(|(n, _)| n > wanted) {
        r.misfit(
            span,
            format!("leg {number} of a set of {wanted}"),
            format!("number {} is not used", missing.join(", ")),
            format!("number the legs of {} from 1 to {wanted}", f.place),
        );
    }
}

fn warn_of_shared_provisions(r: &mut Findings, legs: &[Leg]) {
    for (i, leg) in legs.iter().enumerate() {
        if let Some(first) = legs[..i].iter().find(|l| l.provision == leg.provision) {
            r.warning(
                &leg.span,
                format!(
                    "legs {} and {} are both made fast to `{}`",
                    first.number, leg.number, leg.provision
                ),
                "the same provision again",
                "check that it is meant and that the provision is rated for both",
            );
        }
    }
}

/// What a table of a leg, or the table for each leg, says.
struct LegParts {
    place: String,
    span: Range<usize>,
    number: Option<(u32, Range<usize>)>,
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
    /// Keys that are there, readable or not.
    written: Vec<&'static str>,
}

impl LegParts {
    fn read(r: &mut Findings, mut f: Fields<'_>, each: bool) -> Self {
        const KEYS: [&str; 13] = [
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
        ];
        let written = KEYS.into_iter().filter(|k| f.has(k)).collect();
        let (number, provision, station) = if each {
            (None, None, None)
        } else {
            if !f.has("number") {
                f.missing(r, "number", "1");
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
        if f.has("stiffness") && f.has("stretch_at_rating") {
            r.error(
                &f.key_span("stretch_at_rating"),
                format!("{} gives both stiffness and stretch_at_rating", f.place),
                "the same thing twice",
                "keep the one that the maker gives",
            );
        }
        let parts = Self {
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
    fn count_table(&self, each: Option<&Self>) -> Option<Text> {
        self.count_table
            .clone()
            .or_else(|| each.and_then(|e| e.count_table.clone()))
    }

    fn into_leg(
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
        let plain = self.wrote("length") || (!self.wrote("rope") && !written("rope"));
        if self.wrote("length") && (self.wrote("rope") || self.wrote("chain")) {
            r.error(
                &self.span,
                format!("{} gives a plain length and also rope or chain", self.place),
                "two lengths",
                "write length for a plain leg, rope and chain for an adjustable one",
            );
            return None;
        }
        let count_table = self.count_table(each);
        let links = self.planned_links(r, count_table.as_ref(), around, set);
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
            if self.wrote("links") || self.wrote("link_pitch") || self.wrote("count_table") {
                r.misfit(
                    &self.span,
                    format!("{} counts links but has no chain", self.place),
                    "",
                    "add chain = \"2.4 m\", or take the links out",
                );
            }
            None
        };
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
            count_check: None,
            span: self.span.clone(),
        })
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

    /// The planned count, from the leg's own line or from its count table; both must agree.
    fn planned_links(
        &self,
        r: &mut Findings,
        table: Option<&Text>,
        around: &Around<'_>,
        set: Option<&Text>,
    ) -> Option<(u32, Range<usize>)> {
        let from_table = match (table, set, &self.station) {
            (Some(table), Some(set), Some(station)) => {
                match around.counts.iter().find(|t| t.name == table.value) {
                    Some(t) => t.count(&set.value, &station.value),
                    None => {
                        r.misfit(
                            &table.span,
                            format!("there is no count table `{}`", table.value),
                            "not a count table",
                            did_you_mean(
                                &table.value,
                                around.counts.iter().map(|t| t.name.as_str()),
                            ),
                        );
                        None
                    }
                }
            }
            _ => None,
        };
        if let (Some((own, span)), Some(listed)) = (&self.links, from_table)
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
            (&self.links, from_table, table, set, &self.station)
            && around.counts.iter().any(|t| t.name == table.value)
        {
            missing_count(r, &table.span, &table.value, &set.value, &station.value);
        }
        self.links
            .clone()
            .or_else(|| from_table.zip(table.map(|t| t.span.clone())))
    }
}

/// A count table lacks the sling set in use, or a station of it.
pub(in crate::plan) fn missing_count(
    r: &mut Findings,
    span: &Range<usize>,
    table: &str,
    set: &str,
    station: &str,
) {
    r.misfit(
        span,
        format!("count table `{table}` has no count for sling set `{set}` at station `{station}`"),
        "needed here",
        format!("add `{station} = LINKS` below [counts.{table}.{set}]"),
    );
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
    } else if f64::from(links) * pitch.value.value > length.value.value {
        r.misfit(
            span,
            format!(
                "link {links} is beyond the end of a chain of {} with a pitch of {}",
                length.text, pitch.text
            ),
            "more links than the chain has",
            "check the count, the chain's length and the pitch",
        );
    }
}
