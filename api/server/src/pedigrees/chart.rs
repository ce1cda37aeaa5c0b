//! A plant's ancestors and descendants, drawn.

use std::collections::BTreeMap;

use actix_web::http::header::{CACHE_CONTROL, CONTENT_SECURITY_POLICY, CONTENT_TYPE, X_CONTENT_TYPE_OPTIONS};
use actix_web::{HttpResponse, get, web};
use serde::Deserialize;
use storksbill_db::rows::lines::{Descent, Line};
use storksbill_domain::ids::IndividualId;
use storksbill_domain::words::ParentSide;
use storksbill_pedigree::drawing::{
    self, Drawing, MOST_PLANTS, NotDrawn, Plant, ancestor_chart, descendant_chart, dot,
};
use utoipa::{IntoParams, ToSchema};

use super::asker::Asker;
use super::whole::{Whole, unnumbered};
use crate::app::App;
use crate::http::auth::Auth;
use crate::http::problem::{Code, Problem};

/// Columns of a chart: the plant itself and four generations of parents.
const USUAL_COLUMNS: usize = 5;
/// Most columns: more do not fit a sheet.
const MOST_COLUMNS: usize = 7;
/// Most generations of descendants.
const MOST_GENERATIONS: usize = 20;

/// As what it is sent.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum As {
    /// A picture.
    #[default]
    Svg,
    /// One plant a line, indented: for screen readers and for those who would rather read.
    Outline,
    /// A graph in the DOT language, to be drawn by other programs.
    Dot,
}

/// How ancestors are drawn.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct How {
    /// Generations, the plant itself among them, 2 to 7; 5 when not given.
    #[param(minimum = 2, maximum = 7)]
    generations: Option<usize>,
    /// `svg`, `outline` or `dot`; a picture when not given.
    #[serde(default, rename = "as")]
    #[param(rename = "as", required = false, inline)]
    form: As,
}

/// How descendants are drawn.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct HowFar {
    /// Generations of descendants, 1 to 20; 5 when not given.
    #[param(minimum = 1, maximum = 20)]
    generations: Option<usize>,
    /// `svg`, `outline` or `dot`; a picture when not given.
    #[serde(default, rename = "as")]
    #[param(rename = "as", required = false, inline)]
    form: As,
}

/// See a plant's ancestors drawn
///
/// Of a cultivar or a numbered seedling: the seed parent above, the pollen parent below; a sport hangs by a broken
/// line from what it sported from; an ancestor that stands in several places bears one number in all of them;
/// inbreeding is told in words. A line that its owner has not released is "undisclosed", and nothing is drawn behind
/// it. Of several possible pollen parents the likeliest is drawn.
#[utoipa::path(
    tag = "pedigrees",
    security(("session" = [])),
    params(How),
    responses((status = 200, description = "The chart", content(
        (String = "image/svg+xml"),
        (String = "text/plain"),
        (String = "text/vnd.graphviz"),
    )))
)]
#[get("/pedigrees/{individual_id}/chart")]
pub async fn chart(
    auth: Auth,
    app: web::Data<App>,
    path: web::Path<IndividualId>,
    how: web::Query<How>,
) -> Result<HttpResponse, Problem> {
    let id = path.into_inner();
    let columns = within(how.generations, USUAL_COLUMNS, (2, MOST_COLUMNS))?;
    let form = how.form;
    let pedigrees = app.pedigrees.clone();
    let body = app
        .db
        .read(move |conn| {
            let asker = Asker::load(conn, &auth)?;
            pedigrees.ask(conn, |whole| {
                let mut drawn = Drawn::new(whole, &asker);
                let root = whole.seen(&asker, id)?;
                drawn.above(root, columns)?;
                let plants = drawn.finish()?;
                text_of(form, &plants, || ancestor_chart(&plants, 0, columns))
            })
        })
        .await?;
    Ok(sent(form, body))
}

/// See a plant's descendants drawn
///
/// Of a cultivar or a numbered seedling: all that you may see, with their other parents. A picture holds at most
/// 2,000 plants; for more ask for `dot`.
#[utoipa::path(
    tag = "pedigrees",
    security(("session" = [])),
    params(HowFar),
    responses((status = 200, description = "The chart", content(
        (String = "image/svg+xml"),
        (String = "text/plain"),
        (String = "text/vnd.graphviz"),
    )))
)]
#[get("/pedigrees/{individual_id}/descendants")]
pub async fn descendants(
    auth: Auth,
    app: web::Data<App>,
    path: web::Path<IndividualId>,
    how: web::Query<HowFar>,
) -> Result<HttpResponse, Problem> {
    let id = path.into_inner();
    let generations = within(how.generations, 5, (1, MOST_GENERATIONS))?;
    let form = how.form;
    let pedigrees = app.pedigrees.clone();
    let body = app
        .db
        .read(move |conn| {
            let asker = Asker::load(conn, &auth)?;
            pedigrees.ask(conn, |whole| {
                let root = whole.seen(&asker, id)?;
                let mut drawn = Drawn::new(whole, &asker);
                drawn.below(root, generations)?;
                let title = format!("Descendants of {}", whole.line(root)?.name);
                let plants = drawn.finish()?;
                text_of(form, &plants, || descendant_chart(&plants, &title))
            })
        })
        .await?;
    Ok(sent(form, body))
}

fn within(given: Option<usize>, usual: usize, (least, most): (usize, usize)) -> Result<usize, Problem> {
    let generations = given.unwrap_or(usual);
    if (least..=most).contains(&generations) {
        return Ok(generations);
    }
    let detail = format!("must be from {least} to {most}");
    let problem = Problem::new(Code::InvalidQuery, format!("generations {detail}."));
    Err(problem.at("generations", "out-of-range", detail))
}

pub(super) fn not_drawn(why: &NotDrawn) -> Problem {
    match why {
        NotDrawn::TooLarge { .. } => {
            let detail = format!("{why}; ask for fewer generations, or as=dot");
            Problem::new(Code::InvalidQuery, format!("It cannot be drawn: {detail}.")).at(
                "generations",
                "too-large",
                detail,
            )
        }
        _ => Problem::new(Code::Internal, format!("It cannot be drawn: {why}.")),
    }
}

fn text_of(
    form: As,
    plants: &[Plant],
    draw: impl FnOnce() -> Result<Drawing, NotDrawn>,
) -> Result<String, Problem> {
    let text = match form {
        As::Svg => draw().map(|drawing| drawing.svg),
        As::Outline => draw().map(|drawing| drawing.outline),
        As::Dot => dot(plants),
    };
    text.map_err(|why| not_drawn(&why))
}

pub(super) fn sent(form: As, body: String) -> HttpResponse {
    let kind = match form {
        As::Svg => "image/svg+xml",
        As::Outline => "text/plain; charset=utf-8",
        As::Dot => "text/vnd.graphviz; charset=utf-8",
    };
    HttpResponse::Ok()
        .insert_header((CONTENT_TYPE, kind))
        .insert_header((CACHE_CONTROL, "private, no-cache"))
        .insert_header((CONTENT_SECURITY_POLICY, "default-src 'none'; style-src 'unsafe-inline'"))
        .insert_header((X_CONTENT_TYPE_OPTIONS, "nosniff"))
        .body(body)
}

/// The plants of a picture, numbered as they are met.
pub(super) struct Drawn<'a> {
    whole: &'a Whole,
    asker: &'a Asker,
    places: BTreeMap<u64, usize>,
    numbers: Vec<u64>,
    /// Whether the parents of each are part of the picture.
    with_parents: Vec<bool>,
}

impl<'a> Drawn<'a> {
    pub(super) fn new(whole: &'a Whole, asker: &'a Asker) -> Self {
        Self { whole, asker, places: BTreeMap::new(), numbers: Vec::new(), with_parents: Vec::new() }
    }

    fn place(&mut self, number: u64) -> usize {
        *self.places.entry(number).or_insert_with(|| {
            self.numbers.push(number);
            self.with_parents.push(false);
            self.numbers.len() - 1
        })
    }

    /// Whether the asker may know the parents of this individual.
    fn origin_seen(&self, number: u64) -> Result<bool, Problem> {
        Ok(self.asker.sees_origin(self.whole.line(number)?))
    }

    /// The individual and so many columns of ancestors; a sport and its source stand in one.
    fn above(&mut self, root: u64, columns: usize) -> Result<(), Problem> {
        let mut front = vec![root];
        self.place(root);
        for _ in 0..columns {
            let mut next = Vec::new();
            for number in front {
                let place = self.place(number);
                if !self.origin_seen(number)? {
                    continue;
                }
                if let Some(known) = self.with_parents.get_mut(place) {
                    *known = true;
                }
                for up in self.parents(number)?.into_iter().flatten() {
                    if !self.places.contains_key(&up) {
                        self.place(up);
                        next.push(up);
                    }
                }
            }
            front = next;
        }
        Ok(())
    }

    /// The individual, so many generations of descendants, and the other parents of those.
    fn below(&mut self, root: u64, generations: usize) -> Result<(), Problem> {
        self.place(root);
        let children = self.children()?;
        let mut front = vec![root];
        for _ in 0..generations {
            let mut next = Vec::new();
            for number in front {
                for &child in children.get(&number).map(Vec::as_slice).unwrap_or_default() {
                    if !self.places.contains_key(&child) {
                        next.push(child);
                    }
                    let place = self.place(child);
                    if let Some(known) = self.with_parents.get_mut(place) {
                        *known = true;
                    }
                    for up in self.parents(child)?.into_iter().flatten() {
                        self.place(up);
                    }
                    // Room for one too many, which the picture refuses.
                    if self.numbers.len() > 50 * MOST_PLANTS {
                        return Ok(());
                    }
                }
            }
            front = next;
        }
        Ok(())
    }

    /// Everybody whom the asker may see, and the undisclosed parents of those.
    pub(super) fn everybody(&mut self) -> Result<(), Problem> {
        for (number, line) in self.whole.all_seen(self.asker) {
            let place = self.place(number);
            if !self.asker.sees_origin(line) {
                continue;
            }
            if let Some(known) = self.with_parents.get_mut(place) {
                *known = true;
            }
            for up in self.parents(number)?.into_iter().flatten() {
                self.place(up);
            }
        }
        Ok(())
    }

    /// Who is a child of whom, as far as the asker may know both.
    fn children(&self) -> Result<BTreeMap<u64, Vec<u64>>, Problem> {
        let mut children: BTreeMap<u64, Vec<u64>> = BTreeMap::new();
        for (number, line) in self.whole.all_seen(self.asker) {
            if self.asker.sees_origin(line) {
                for up in self.parents(number)?.into_iter().flatten() {
                    children.entry(up).or_default().push(number);
                }
            }
        }
        Ok(children)
    }

    /// Seed parent and pollen parent, or the source; of several pollen parents the likeliest.
    fn parents(&self, number: u64) -> Result<[Option<u64>; 2], Problem> {
        let of = |id: IndividualId| self.whole.number(id);
        Ok(match &self.whole.line(number)?.descent {
            Descent::Unknown => [None, None],
            Descent::Cross { seed, pollen } => [seed.and_then(of), likeliest(pollen).and_then(of)],
            Descent::OneGamete(ParentSide::Seed, parent) => [of(*parent), None],
            Descent::OneGamete(ParentSide::Pollen, parent) => [None, of(*parent)],
            Descent::Sport { of: source, .. } | Descent::Cutting(source) | Descent::Doubled(source) => {
                [of(*source), None]
            }
        })
    }

    pub(super) fn finish(self) -> Result<Vec<Plant>, Problem> {
        self.numbers
            .iter()
            .zip(&self.with_parents)
            .map(|(number, known)| self.plant(*number, *known))
            .collect()
    }

    fn plant(&self, number: u64, with_parents: bool) -> Result<Plant, Problem> {
        let line = self.whole.line(number)?;
        if !self.asker.sees(line) {
            return Ok(Plant {
                label: "undisclosed".to_owned(),
                detail: String::new(),
                inbreeding_per_mille: None,
                descent: drawing::Descent::Unknown,
            });
        }
        let inbreeding = self.whole.pedigree.inbreeding(number).map_err(unnumbered)?;
        let place = |number: Option<u64>| number.and_then(|number| self.places.get(&number).copied());
        let [first, second] = self.parents(number)?.map(place);
        let descent = match (&line.descent, first) {
            _ if !with_parents => drawing::Descent::Unknown,
            (Descent::Cross { .. } | Descent::OneGamete(..), _) => {
                drawing::Descent::Cross { seed_parent: first, pollen_parent: second }
            }
            (Descent::Sport { .. }, Some(of)) => drawing::Descent::Clone { of, how: "sport of".to_owned() },
            (Descent::Cutting(_), Some(of)) => drawing::Descent::Clone { of, how: "cutting of".to_owned() },
            (Descent::Doubled(_), Some(of)) => drawing::Descent::Clone { of, how: "doubled from".to_owned() },
            (Descent::Unknown, _) | (_, None) => drawing::Descent::Unknown,
        };
        Ok(Plant {
            label: line.name.clone(),
            detail: detail(line),
            inbreeding_per_mille: per_mille(inbreeding),
            descent,
        })
    }
}

fn likeliest(pollen: &[(Option<IndividualId>, i32)]) -> Option<IndividualId> {
    let mut best: Option<(IndividualId, i32)> = None;
    for (id, share) in pollen.iter().filter_map(|(id, share)| Some(((*id)?, *share))) {
        if best.is_none_or(|(_, most)| share > most) {
            best = Some((id, share));
        }
    }
    best.map(|(id, _)| id)
}

/// The year and, where they are recorded and not two, the sets of chromosomes.
fn detail(line: &Line) -> String {
    let year = line.raised_year.map(|year| year.to_string());
    let sets = line.sets.filter(|sets| *sets != 2).map(|sets| format!("{sets} sets"));
    year.into_iter().chain(sets).collect::<Vec<_>>().join(", ")
}

/// Told where there is any.
#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "from 0 to 1,000")]
fn per_mille(inbreeding: f64) -> Option<u16> {
    let rounded = (inbreeding * 1000.0).round().clamp(0.0, 1000.0) as u16;
    (rounded > 0).then_some(rounded)
}
