//! The season's page: every region's season with its figures, and how right past forecasts would have been.

use std::fmt::Write;

use actix_web::http::StatusCode;
use actix_web::{HttpResponse, web};
use storksbill_domain::ids::RegionId;
use storksbill_domain::words::Environment;

use super::drawing::{coverage, heat};
use super::text::Text;
use crate::app::App;
use crate::fits::{self, BacktestOut, MethodOut};
use crate::forecasts::pooled::{PooledRecords, epoch_day};
use crate::http::problem::Problem;
use crate::season::curve::Curve;
use crate::season::reckon::reference;
use crate::season::{self, AdviceOut, DampOut, HumidityFrom, RegionSeasonOut, TroubleKind, TroubleOut};

/// The page.
pub async fn page(app: web::Data<App>) -> HttpResponse {
    let main = format!(
        include_str!("season.html"),
        day = app.clock.today().format("%-d %B %Y"),
        regions = or_excuse(regions(&app).await, "The regions"),
        tested = or_excuse(fits::latest_backtest(&app).await.map(tested), "The comparison"),
    );
    super::page(&app, StatusCode::OK, "The season", "", &main)
}

fn or_excuse(part: Result<String, Problem>, what: &str) -> String {
    part.unwrap_or_else(|problem| {
        tracing::error!(%problem, what, "a part of the season's page cannot be shown");
        format!("<p>{what} cannot be shown just now. Try again in a minute.</p>")
    })
}

async fn regions(app: &App) -> Result<String, Problem> {
    let regions = season::regions(app).await?;
    if regions.is_empty() {
        return Ok("<p>No region has been entered yet.</p>".to_owned());
    }
    let mut sections = String::new();
    for region in regions {
        let id = region.id;
        let report = season::of_region(app, region, None).await?;
        sections += &section(&report, curve(app, id).await?.as_ref());
    }
    Ok(sections)
}

async fn curve(app: &App, region: RegionId) -> Result<Option<Curve>, Problem> {
    let pooled = PooledRecords::of(app).await?;
    let table = pooled.table(region, Environment::FrostFree, None).ok();
    let today = epoch_day(app.clock.today());
    Ok(table.and_then(|table| Curve::of(&table, &reference(&pooled, region), today)))
}

fn section(report: &RegionSeasonOut, curve: Option<&Curve>) -> String {
    let id = report.region_id;
    format!(
        "<section class=\"region\" aria-labelledby=\"r-{id}\">\n<h2 id=\"r-{id}\">{name}</h2>\n\
         <p class=\"stand\">{words}</p>\n{heat}\n{figures}\n{advice}\n{groups}\n</section>\n",
        name = Text(&report.name),
        words = Text(&report.words),
        heat = curve.map(|curve| heat(curve, &report.name)).unwrap_or_default(),
        figures = figures(report),
        advice = advice(&report.advice),
        groups = groups(report),
    )
}

fn figures(report: &RegionSeasonOut) -> String {
    let mut list = String::new();
    // Writing to a string cannot fail.
    let mut add = |name: &str, words: &str| {
        let _ = writeln!(list, "<div><dt>{name}</dt><dd>{}</dd></div>", Text(words));
    };
    if let Some(damp) = &report.damp {
        add("Damp under frost-free glass", &damp_words(damp));
    }
    for trouble in report.troubles.iter().filter(|trouble| trouble.now.is_some()) {
        add(trouble_name(trouble.trouble), &trouble_words(trouble));
    }
    if let Some(frost) = &report.frost {
        add("Last frost", &frost.words);
    }
    if list.is_empty() { list } else { format!("<dl class=\"figures\">\n{list}</dl>") }
}

fn damp_words(damp: &DampOut) -> String {
    let humidity = match damp.humidity {
        HumidityFrom::Measured => "humidity measured",
        HumidityFrom::PartlyMeasured => "humidity measured on some days, estimated on the others",
        HumidityFrom::Estimated => "humidity estimated from minimum and rain",
    };
    let cold = if damp.cold_damp { " Cold and damp for most of the fortnight." } else { "" };
    if damp.damp_days == 0 {
        return format!(
            "None of the last {} days with readings wetted flowers long enough for grey mould ({humidity}).{cold}",
            damp.days
        );
    }
    format!(
        "{} of the last {} days wetted flowers for half as long as grey mould needs or longer, {} of them long \
         enough ({humidity}).{cold}",
        damp.damp_days, damp.days, damp.infection_days
    )
}

fn trouble_name(trouble: TroubleKind) -> &'static str {
    match trouble {
        TroubleKind::DampingOff => "Blooms damped off",
        TroubleKind::DeformedBloom => "Deformed blooms",
        TroubleKind::Proliferation => "Leafy growth in the bloom",
    }
}

fn trouble_words(trouble: &TroubleOut) -> String {
    let percent = |share: f64| (share * 100.0).round();
    let Some(now) = &trouble.now else { return String::new() };
    let usual = trouble.usual.as_ref().map_or_else(
        || "nothing to hold it against".to_owned(),
        |usual| format!("usually {:.0} in 100", percent(usual.share)),
    );
    format!(
        "On {:.0} in 100 plants in flower in the last fortnight ({:.0} to {:.0}); {usual}.",
        percent(now.share),
        percent(now.low),
        percent(now.high)
    )
}

fn advice(all: &[AdviceOut]) -> String {
    if all.is_empty() {
        return String::new();
    }
    let mut list = "<ul class=\"cards advice\">\n".to_owned();
    for piece in all {
        let _ = writeln!(
            list,
            "<li>{}<p class=\"quiet\">{}: {}. <span class=\"mark\">{}</span></p></li>",
            Text(&piece.sentence),
            Text(&piece.figure),
            short(piece.value),
            Text(&piece.source)
        );
    }
    list + "</ul>"
}

/// Two digits after the point at the most, none where there are none.
fn short(value: f64) -> String {
    let written = format!("{value:.2}");
    written.trim_end_matches('0').trim_end_matches('.').to_owned()
}

fn groups(report: &RegionSeasonOut) -> String {
    let mut table = "<details><summary>Every plant group</summary>\n<table class=\"groups\">\n\
                     <thead><tr><th scope=\"col\">Plant group</th><th scope=\"col\">Season</th></tr></thead>\n\
                     <tbody>\n"
        .to_owned();
    for group in &report.plant_groups {
        let _ = writeln!(
            table,
            "<tr><th scope=\"row\">{}</th><td>{}</td></tr>",
            group.plant_group.as_str().replace('_', " "),
            Text(&group.words)
        );
    }
    table + "</tbody>\n</table></details>"
}

fn tested(backtest: Option<BacktestOut>) -> String {
    let Some(backtest) = backtest else {
        return "<p>No comparison with past seasons has been made yet.</p>".to_owned();
    };
    let Some(scheme) = backtest.schemes.first() else {
        return "<p>Past seasons hold too little to compare with.</p>".to_owned();
    };
    let mut table = format!(
        "<p>{}</p>\n<p class=\"quiet\" id=\"of-tested\">Mean absolute error of the day told, in days, and how many \
         of 100 plants came within the middle half and nine tenths of what was told. Compared on {}.</p>\n\
         <div class=\"wide\" tabindex=\"0\" role=\"region\" aria-labelledby=\"of-tested\"><table class=\"tested\" \
         aria-describedby=\"of-tested\">\n<thead><tr><th scope=\"col\">Weeks ahead</th><th scope=\"col\">Plants</th>\
         <th scope=\"col\">Forecast</th><th scope=\"col\">Mean days</th><th scope=\"col\">Fixed heat</th>\
         <th scope=\"col\">Middle half</th><th scope=\"col\">Nine tenths</th></tr></thead>\n<tbody>\n",
        Text(&backtest.words),
        backtest.made_at.format("%-d %B %Y")
    );
    for lead in &scheme.leads {
        // The forecast and its two references, in this order.
        let [own, days, heat] = lead.methods.as_slice() else { continue };
        let error = |method: &MethodOut| format!("{:.1}", method.mean_absolute_error);
        let _ = writeln!(
            table,
            "<tr><th scope=\"row\">{}</th><td>{}</td><td>{}</td><td>{}</td><td>{}</td><td>{:.0}</td>\
             <td>{:.0}</td></tr>",
            lead.weeks_ahead,
            own.n,
            error(own),
            error(days),
            error(heat),
            own.cover50 * 100.0,
            own.cover90 * 100.0
        );
    }
    let of_own = |lead: &fits::LeadOut| {
        let own = lead.methods.first()?;
        Some((lead.weeks_ahead, own.cover50, own.cover90))
    };
    let shares: Vec<(i32, f64, f64)> = scheme.leads.iter().filter_map(of_own).collect();
    table + "</tbody>\n</table></div>\n" + &coverage(&shares)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_are_written_short() {
        assert_eq!(
            (short(3.0), short(0.25), short(-6.54)),
            ("3".to_owned(), "0.25".to_owned(), "-6.54".to_owned())
        );
        assert_eq!((short(0.1), short(10.0)), ("0.1".to_owned(), "10".to_owned()));
    }
}
