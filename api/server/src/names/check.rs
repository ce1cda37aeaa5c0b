//! Check a name.

use actix_web::{post, web};
use chrono::NaiveDate;
use storksbill_db::rows::cultivar_names::{self, KnownName};
use storksbill_domain::ids::CultivarId;
use storksbill_domain::nomenclature::{Context, Finding, GenusProfile, NameIndex, bars, check, parse};
use storksbill_domain::words::OtherNameKind;

use super::dto::{NameFinding, NameIn, NameOut, NearName};
use crate::app::App;
use crate::http::auth::Auth;
use crate::http::json::Valid;
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;

/// Close names told at most.
const MOST_NEAR: usize = 20;

/// Check a name
///
/// Before it is proposed for registration: what the rules for names of cultivated plants say, as far as a program
/// can tell, and which names of the register are close to it. Nothing is recorded. A name in use can always be
/// recorded, whatever is found here; the registrar of the genus decides on a new one.
#[utoipa::path(
    tag = "names",
    security(("session" = [])),
    request_body = NameIn,
    responses((status = 200, description = "The name, read and checked", body = NameOut))
)]
#[post("/names/check")]
pub async fn check_name(auth: Auth, app: web::Data<App>, body: Valid<NameIn>) -> Result<Reply, Problem> {
    let asked = body.value;
    let known =
        app.db.read(move |conn| Ok::<_, Problem>(cultivar_names::known_visible_to(conn, &auth)?)).await?;
    let told = web::block(move || told(&asked, &known))
        .await
        .map_err(|_stopping| Problem::busy("The server is stopping. Nothing was checked; try again."))??;
    Reply::ok(&told)
}

fn told(asked: &NameIn, known: &[KnownName]) -> Result<NameOut, Problem> {
    let genus = pelargonium()?;
    let parsed = parse(&asked.name, Some(&genus));
    let epithet = parsed.name.epithet.clone().unwrap_or_default();
    let mut findings = parsed.findings;
    // Places in the text are told of the text as it was given.
    let offset = asked.name.find(epithet.as_str()).filter(|_| !epithet.is_empty()).unwrap_or(0);
    let (mut of_epithet, near) =
        against(&epithet, asked.published_on.map(NaiveDate::from), known, asked.cultivar_id, &genus);
    for finding in &mut of_epithet {
        finding.span = finding.span.start + offset..finding.span.end + offset;
    }
    findings.extend(of_epithet);
    let (written, html) = NameOut::written(&parsed.name);
    Ok(NameOut {
        written,
        html,
        parts: NameOut::parts(&parsed.name),
        may_be_proposed: !bars(&findings),
        near,
        findings: findings.into_iter().map(NameFinding::of).collect(),
    })
}

/// The epithet of a name as it was typed, or all of it where it has no other parts; and what speaks against it.
pub fn examined(
    name: &str,
    published_on: Option<NaiveDate>,
    known: &[KnownName],
    own: CultivarId,
) -> Result<(String, Vec<NameFinding>, Vec<NearName>), Problem> {
    let genus = pelargonium()?;
    let epithet = parse(name, Some(&genus)).name.epithet;
    let epithet = epithet.unwrap_or_else(|| name.trim().to_owned());
    let (findings, near) = against(&epithet, published_on, known, Some(own), &genus);
    Ok((epithet, findings.into_iter().map(NameFinding::of).collect(), near))
}

/// What the rules say of an epithet, and the names close to it.
fn against(
    epithet: &str,
    published: Option<NaiveDate>,
    known: &[KnownName],
    own: Option<CultivarId>,
    genus: &GenusProfile,
) -> (Vec<Finding>, Vec<NearName>) {
    let others = || (0..).zip(known).filter(|(_, name)| Some(name.cultivar_id) != own);
    let (mut taken, mut all) = (NameIndex::default(), NameIndex::default());
    for (place, name) in others() {
        // What a cultivar is sold as or misspelt as is no name that could not be given again.
        if !matches!(name.kind, Some(OtherNameKind::TradeDesignation | OtherNameKind::Misspelling)) {
            taken.insert(place, &name.name);
        }
        all.insert(place, &name.name);
    }
    let findings = check(epithet, &Context { genus, published, taken: &taken });
    let near = all.near(epithet).into_iter().take(MOST_NEAR).filter_map(|near| {
        let found = known.get(usize::try_from(near.id).ok()?)?;
        let own_name =
            || known.iter().find(|name| name.cultivar_id == found.cultivar_id && name.kind.is_none());
        Some(NearName {
            cultivar_id: found.cultivar_id,
            name: near.name,
            likeness: NearName::words(near.likeness),
            other_name_of: found.kind.and_then(|_| own_name()).map(|name| name.name.clone()),
        })
    });
    (findings, near.collect())
}

/// The society's genus.
fn pelargonium() -> Result<GenusProfile, Problem> {
    serde_json::from_str(storksbill_domain::nomenclature::PELARGONIUM)
        .map_err(|error| Problem::new(Code::Internal, format!("The genus profile cannot be read: {error}.")))
}
