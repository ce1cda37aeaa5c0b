//! Check a name.

use actix_web::{post, web};
use storksbill_db::rows::cultivars;
use storksbill_domain::ids::CultivarId;
use storksbill_domain::nomenclature::{Context, GenusProfile, NameIndex, bars, check, parse};

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
    let own = asked.cultivar_id;
    let known =
        app.db.read(move |conn| Ok::<_, Problem>(cultivars::every_name_visible_to(conn, &auth)?)).await?;
    let told = web::block(move || told(&asked, &known, own))
        .await
        .map_err(|_stopping| Problem::busy("The server is stopping. Nothing was checked; try again."))??;
    Reply::ok(&told)
}

fn told(asked: &NameIn, known: &[(CultivarId, String)], own: Option<CultivarId>) -> Result<NameOut, Problem> {
    let genus = pelargonium()?;
    let parsed = parse(&asked.name, Some(&genus));
    let mut taken = NameIndex::default();
    for (place, (_, name)) in (0..).zip(known).filter(|(_, (id, _))| Some(*id) != own) {
        taken.insert(place, name);
    }
    let context = Context { genus: &genus, published: asked.published_on, taken: &taken };
    let epithet = parsed.name.epithet.clone().unwrap_or_default();
    let mut findings = parsed.findings;
    // Places in the text are told of the text as it was given.
    let offset = asked.name.find(epithet.as_str()).filter(|_| !epithet.is_empty());
    let mut of_epithet = check(&epithet, &context);
    for finding in &mut of_epithet {
        let offset = offset.unwrap_or(0);
        finding.span = finding.span.start + offset..finding.span.end + offset;
    }
    findings.extend(of_epithet);
    let near = taken.near(&epithet).into_iter().take(MOST_NEAR).filter_map(|near| {
        let (cultivar_id, _) = known.get(usize::try_from(near.id).ok()?)?;
        Some(NearName {
            cultivar_id: *cultivar_id,
            name: near.name,
            likeness: NearName::words(near.likeness),
        })
    });
    let (written, html) = NameOut::written(&parsed.name);
    Ok(NameOut {
        written,
        html,
        parts: NameOut::parts(&parsed.name),
        may_be_proposed: !bars(&findings),
        near: near.collect(),
        findings: findings.into_iter().map(NameFinding::of).collect(),
    })
}

/// The society's genus.
fn pelargonium() -> Result<GenusProfile, Problem> {
    serde_json::from_str(storksbill_domain::nomenclature::PELARGONIUM)
        .map_err(|error| Problem::new(Code::Internal, format!("The genus profile cannot be read: {error}.")))
}
