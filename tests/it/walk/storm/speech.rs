//! What is said in the storm: anything, and what a patient inspector says behind it.

use super::*;

impl Storm {
    pub(super) fn speak(&mut self) {
        let Some(listen) = self.listen.clone() else {
            return;
        };
        if listen.free && self.tape.pick(2) == 0 {
            let note = Note {
                machine_transcript: "a note".to_owned(),
                clip: "n.wav".to_owned(),
                clip_sha256: String::new(),
                typed: false,
                by_tool: false,
            };
            return self.handle(Event::NoteHeard {
                listen: listen.id,
                note,
            });
        }
        if !listen.items.is_empty() && self.tape.pick(5) > 0 {
            return self.call(&listen);
        }
        let decision = self.utterance();
        self.say_to(listen.id, decision);
    }

    /// A breath of anything that may be called off, some of it half heard; or all that is good there, half heard.
    fn call(&mut self, listen: &Listen) {
        let mut items = Vec::new();
        if self.tape.pick(3) == 1 {
            let route = self.walk.ledger().route().clone();
            for item in &listen.items {
                // Names are unique in the route.
                let check = route.checks().find(|c| c.name == item.names[0]);
                let value = check.map_or_else(String::new, good);
                for check in route.checks() {
                    self.given.insert((check.id.clone(), value.clone()));
                }
                let rule = item.key.clone();
                let meaning = Meaning { rule, value };
                items.push(self.piece(Decision::Confirm { meaning }));
            }
        }
        for _ in 0..self.tape.pick(5) {
            let meaning = self.item(listen);
            let decision = match self.tape.pick(6) {
                0 => Decision::Confirm { meaning },
                1 => Decision::Refuse {
                    reason: "too quiet".to_owned(),
                },
                _ => Decision::Take { meaning },
            };
            items.push(self.piece(decision));
        }
        let whole = self.piece(Decision::Refuse {
            reason: "nothing".to_owned(),
        });
        self.handle(Event::Called {
            listen: listen.id,
            called: Called {
                items,
                whole,
                more: false,
            },
        });
    }

    fn item(&mut self, listen: &Listen) -> Meaning {
        let route = self.walk.ledger().route().clone();
        let at = self.tape.pick(listen.items.len());
        let (item, other) = (&listen.items[at], &listen.items[listen.items.len() - 1]);
        // Names are unique in the route.
        let check = route.checks().find(|c| c.name == item.names[0]);
        let mut value = check.map_or_else(String::new, |c| match self.tape.pick(2) {
            0 => good(c),
            _ => sample(c, &mut self.tape),
        });
        let mut rule = item.key.clone();
        match self.tape.pick(24) {
            0 => (rule, value) = ("filler".to_owned(), "correction".to_owned()),
            1 => (rule, value) = ("name".to_owned(), item.key.clone()),
            2 => {
                let control = CONTROLS[self.tape.pick(CONTROLS.len())];
                (rule, value) = (rules::CONTROL.to_owned(), control.to_owned());
            }
            3 => (rule, value) = ("count".to_owned(), (95 + self.tape.pick(30)).to_string()),
            4 => value = "~not".to_owned(),
            5 => value = rules::NOT_SEEN.to_owned(),
            6 => value = rules::NOT_APPLICABLE.to_owned(),
            7 => rule = format!("{}+{}", item.key, other.key),
            _ => {}
        }
        for check in route.checks() {
            self.given.insert((check.id.clone(), value.clone()));
        }
        Meaning { rule, value }
    }

    /// A piece of a breath, known by its clip.
    fn piece(&mut self, decision: Decision) -> Hearing {
        self.numbered += 1;
        let mut heard = hearing(decision);
        heard.clip = format!("{}.wav", self.numbered);
        self.fed.insert(heard.clip.clone());
        heard
    }

    pub(super) fn say_to(&mut self, listen: u64, decision: Decision) {
        let hearing = self.heard(decision, true);
        self.handle(Event::Heard { listen, hearing });
    }

    /// A hearing of its own, known by its clip.
    pub(super) fn heard(&mut self, decision: Decision, fed: bool) -> Hearing {
        self.numbered += 1;
        let mut heard = hearing(decision);
        heard.clip = format!("{}.wav", self.numbered);
        if fed {
            self.fed.insert(heard.clip.clone());
            if let (Decision::Take { meaning } | Decision::Confirm { meaning }, Some(check)) =
                (&heard.decision, self.walk.current())
            {
                self.given.insert((check.clone(), meaning.value.clone()));
            }
        }
        heard
    }

    /// Anything that ears may make of a sound.
    pub(super) fn utterance(&mut self) -> Decision {
        let check = self.walk.current().cloned();
        let route = self.walk.ledger().route().clone();
        let check = check
            .and_then(|c| route.check(&c))
            .or_else(|| route.checks().next());
        let check = check.expect("a route has checks");
        // Mostly what is listened for, sometimes anything.
        let wanted = self.listen.iter().flat_map(|l| &l.rules);
        let wanted: Vec<String> = wanted.filter(|r| *r != rules::CONTROL).cloned().collect();
        let wanted = match (wanted.is_empty(), self.tape.pick(4)) {
            (false, 1..) => wanted[self.tape.pick(wanted.len())].clone(),
            _ => [rules::CONTROL, "count", rules::YES_NO, rules::FIXING][self.tape.pick(4)]
                .to_owned(),
        };
        let (rule, value) = match wanted.as_str() {
            rules::YES_NO => (rules::YES_NO, ["yes", "no"][self.tape.pick(2)].to_owned()),
            rules::FIXING => (
                rules::FIXING,
                ["fixed", "leave"][self.tape.pick(2)].to_owned(),
            ),
            rules::CONTROL => {
                let control = CONTROLS[self.tape.pick(CONTROLS.len())];
                (rules::CONTROL, control.to_owned())
            }
            wanted if wanted == rule(&check.kind) => {
                (rule(&check.kind), sample(check, &mut self.tape))
            }
            _ => ("count", "not a number".to_owned()),
        };
        let meaning = Meaning {
            rule: rule.to_owned(),
            value,
        };
        match self.tape.pick(4) {
            0 => Decision::Confirm { meaning },
            1 => Decision::Refuse {
                reason: "too quiet".to_owned(),
            },
            _ => Decision::Take { meaning },
        }
    }

    pub(super) fn patient(&mut self, listen: &Listen) -> Decision {
        let has = |rule: &str| listen.rules.iter().any(|r| r == rule);
        let route = self.walk.ledger().route();
        let check = self.walk.current().and_then(|c| route.check(c));
        let (rule, value) = match check {
            // By turns: what ends the calls, and what keeps all where it is asked which was wrong. The first writes two
            // entries there.
            _ if !listen.items.is_empty() && (self.disk.len() / 2).is_multiple_of(2) => {
                (rules::CONTROL, rules::CARRY_ON.to_owned())
            }
            _ if !listen.items.is_empty() => (rules::CONTROL, rules::DONE.to_owned()),
            _ if has(rules::YES_NO) => (rules::YES_NO, "yes".to_owned()),
            _ if has(rules::FIXING) => (rules::FIXING, "leave".to_owned()),
            Some(check) if has(rule(&check.kind)) => (rule(&check.kind), good(check)),
            _ => (rules::CONTROL, rules::CARRY_ON.to_owned()),
        };
        let rule = rule.to_owned();
        Decision::Take {
            meaning: Meaning { rule, value },
        }
    }
}
