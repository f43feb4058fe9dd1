//! The fit forecast drawn over the pieces: each zone hatched by how it will feel, with its figures.
//!
//! Not at true scale: it is looked at, never cut. How a zone feels is told by the direction and the
//! closeness of its hatching, so that it is read without colour.

use analysis::draft::{Digit, Draft, Feel, GloveOptions, Layer, Level, Zone, ZoneFit};
use kurbo::{Affine, BezPath, Line, Point, Rect, Shape as _, Size, Vec2};

use super::drawing::{printed_bounds, rings};
use super::font::text_width_mm;
use super::hatching::{Hatched, hatch};
use super::ink::{Anchor, Group, Ink};
use super::svg;

/// Clear space between pieces and round the whole, mm.
const GAP_MM: f64 = 8.0;

/// Capitals of the figures, mm, and from line to line.
const CAP_MM: f64 = 2.3;
const LINE_MM: f64 = 3.9;

/// Clear space round figures, mm.
const CLEAR_MM: f64 = 0.8;

/// Half the height of the bands at palm and wrist, mm.
const PALM_BAND_MM: f64 = 8.0;

/// Half the gap between two bands, mm.
const BAND_GAP_MM: f64 = 0.5;

/// A sample of the legend, mm.
const SAMPLE_MM: Size = Size::new(14.0, 8.0);

/// The words of the legend.
#[derive(Debug, Clone, Copy)]
pub struct ForecastWords<'a> {
    /// Title for those who do not see the drawing.
    pub title: &'a str,
    /// How a zone feels: loose, easy, firm, tight.
    pub feels: [&'a str; 4],
    /// What the figures in the zones, at the crotches and at the tips are.
    pub notes: [&'a str; 3],
}

/// Draws the forecast of a draft.
#[must_use]
pub fn render(draft: &Draft, options: &GloveOptions, words: &ForecastWords<'_>) -> String {
    let (ink, size) = forecast_ink(draft, options, words);
    svg::render_inline("forecast", words.title, &ink, size)
}

/// The drawing and its size, mm.
fn forecast_ink(draft: &Draft, options: &GloveOptions, words: &ForecastWords<'_>) -> (Ink, Size) {
    let mut ink = Ink::default();
    let base = GAP_MM + legend_height(words);
    let (mut x, mut height) = (GAP_MM, 0.0_f64);
    // Fourchettes and casings have no girth of their own.
    for (index, piece) in draft.pieces.iter().enumerate().take(2) {
        let bounds = printed_bounds(piece).inflate(6.0, 6.0);
        let mut own = Ink::default();
        for (layer, path) in &piece.lines {
            match layer {
                Layer::Cut | Layer::Hole => own.stroke(Group::Cut, path.clone()),
                Layer::Fold => own.stroke(Group::Fold, path.clone()),
                Layer::Seam => own.stroke(Group::Seam, path.clone()),
                Layer::Slit | Layer::Grain | Layer::Internal => {}
            }
        }
        let cloth = rings(piece, &[Layer::Seam]);
        for band in bands(draft, index) {
            let Some(fit) = draft.forecast.zones.iter().find(|fit| fit.zone == band.zone) else {
                continue;
            };
            let figures = figures(fit);
            let clear = write_figures(&mut own, band.middle(), &figures);
            let style = fit.feel(options.usable_across());
            let hatched = Hatched { cloth: &cloth, within: &band.sides(), clear };
            own.stroke(Group::Hatch, hatch(&hatched, style));
        }
        if index == 0 {
            crotches(&mut own, draft);
            spare_lengths(&mut own, draft, &cloth);
        }
        ink.add(&own, Affine::translate((x - bounds.x0, base - bounds.y0)));
        x += bounds.width() + GAP_MM;
        height = height.max(bounds.height());
    }
    legend(&mut ink, words, base - GAP_MM);
    let widest = words.notes.iter().map(|note| text_width_mm(note, CAP_MM)).fold(x, f64::max);
    (ink, Size::new(widest.max(x) + GAP_MM, base + height + GAP_MM))
}

/// What is written in a zone: stretch, and pressure where the fabric's tension is known.
fn figures(fit: &ZoneFit) -> Vec<String> {
    let mut lines = vec![format!("{:.0} %", fit.extension() * 100.0)];
    lines.extend(fit.pressure_mmhg.map(|pressure| format!("{pressure:.0} mmHg")));
    lines
}

/// Writes lines of figures about a point and returns the box to keep clear of hatching.
fn write_figures(ink: &mut Ink, middle: Point, lines: &[String]) -> Rect {
    let height = LINE_MM * lines.len() as f64;
    let mut top = middle.y + height / 2.0;
    let mut width = 0.0_f64;
    for line in lines {
        let base = Point::new(middle.x, top - (LINE_MM + CAP_MM) / 2.0);
        ink.text(Group::Labels, (base, 0.0, Anchor::Middle), CAP_MM, line.clone());
        width = width.max(text_width_mm(line, CAP_MM));
        top -= LINE_MM;
    }
    Rect::from_center_size(middle, (width, height)).inflate(CLEAR_MM, CLEAR_MM)
}

/// A zone on a piece: a band across it.
#[derive(Debug, Clone, Copy)]
struct Band {
    zone: Zone,
    /// The level line the band lies about, and the unit vector across it towards the tips.
    line: Line,
    up: Vec2,
    /// From and to, mm from the level line.
    from: f64,
    to: f64,
}

impl Band {
    fn middle(&self) -> Point {
        self.line.midpoint() + self.up * f64::midpoint(self.from, self.to)
    }

    /// Half-planes `p . n <= c` whose common part is the band: no farther than the fold, and a
    /// little farther than the level line on the other side.
    fn sides(&self) -> Vec<(Vec2, f64)> {
        let middle = self.line.midpoint();
        let along = (self.line.p1 - self.line.p0).normalize();
        let half = self.line.length() / 2.0 + 2.0;
        let away = if middle.x < 0.0 { Vec2::new(1.0, 0.0) } else { Vec2::new(-1.0, 0.0) };
        let at = |n: Vec2, distance: f64| (n, middle.to_vec2().dot(n) + distance);
        vec![
            at(self.up, self.to - BAND_GAP_MM),
            at(-self.up, -self.from - BAND_GAP_MM),
            at(along, half),
            at(-along, half),
            (away, 0.0),
        ]
    }
}

fn level(draft: &Draft, zone: Zone) -> Option<&Level> {
    draft.levels.iter().find(|level| level.zone == zone)
}

/// Unit vector across a line, towards the tips.
fn upwards(line: Line) -> Vec2 {
    let up = (line.p1 - line.p0).turn_90().normalize();
    if up.y < 0.0 { -up } else { up }
}

/// The zones of a piece whose girth is known.
fn bands(draft: &Draft, piece: usize) -> Vec<Band> {
    let mut all = Vec::with_capacity(14);
    if piece == 1 {
        let Some(joint) = level(draft, Zone::Knuckle(Digit::Thumb)) else { return all };
        let (line, up, high) = (joint.line, upwards(joint.line), joint.line.p0.y);
        let band = |zone, from, to| Band { zone, line, up, from, to };
        all.push(band(Zone::Root(Digit::Thumb), -1.25 * high, -0.6 * high));
        all.push(band(Zone::Knuckle(Digit::Thumb), -0.6 * high, 0.45 * high));
        return all;
    }
    for zone in [Zone::Palm, Zone::Wrist] {
        if let Some(level) = level(draft, zone) {
            let (from, to) = (-PALM_BAND_MM, PALM_BAND_MM);
            all.push(Band { zone, line: level.line, up: upwards(level.line), from, to });
        }
    }
    for (i, digit) in Digit::FINGERS.into_iter().enumerate() {
        let Some(knuckle) = level(draft, Zone::Knuckle(digit)) else { continue };
        let (line, up) = (knuckle.line, upwards(knuckle.line));
        let above = |p: Point| (p - line.midpoint()).dot(up);
        let floors = [i.checked_sub(1), Some(i)].into_iter().flatten();
        let root = floors
            .filter_map(|k| draft.crotches.iter().take(3).nth(k))
            .map(|floor| above(floor.midpoint()))
            .fold(f64::NEG_INFINITY, f64::max);
        let end = level(draft, Zone::EndJoint(digit)).map(|level| above(level.line.midpoint()));
        let band = |zone, from, to| Band { zone, line, up, from, to };
        if root.is_finite() {
            all.push(band(Zone::Root(digit), root, 0.45 * root));
        }
        let half_way = end.map_or(PALM_BAND_MM, |end| 0.5 * end);
        all.push(band(Zone::Knuckle(digit), 0.45 * root.max(-30.0), half_way));
        if let Some(end) = end {
            all.push(band(Zone::EndJoint(digit), half_way, 1.45 * end));
        }
    }
    all
}

/// How far a text reaches from its middle in a direction, mm.
fn reach(text: &str, direction: Vec2) -> f64 {
    let half_width = text_width_mm(text, CAP_MM) / 2.0;
    direction.x.abs() * half_width + direction.y.abs() * CAP_MM / 2.0
}

/// Writes how far each crotch stands off the web, below its floor on the palm.
fn crotches(ink: &mut Ink, draft: &Draft) {
    for (floor, fit) in draft.crotches.iter().zip(&draft.forecast.crotches) {
        let text = format!("{:.0} mm", fit.stand_off_mm);
        let up = upwards(*floor);
        write_figures(ink, floor.midpoint() - up * (reach(&text, up) + 1.2), &[text]);
    }
}

/// Writes the spare length with the finger bent beyond each closed tip.
fn spare_lengths(ink: &mut Ink, draft: &Draft, cloth: &[Vec<Point>]) {
    for fit in &draft.forecast.lengths {
        let knuckle = level(draft, Zone::Knuckle(fit.digit));
        let end = level(draft, Zone::EndJoint(fit.digit));
        let Some((knuckle, _)) = knuckle.zip(end) else { continue };
        let (middle, up) = (knuckle.line.midpoint(), upwards(knuckle.line));
        let along = (knuckle.line.p1 - knuckle.line.p0).normalize();
        let half = knuckle.line.length() / 2.0;
        let beside = |p: &&Point| (**p - middle).dot(along).abs() < half;
        let tip = cloth
            .iter()
            .flatten()
            .filter(beside)
            .map(|p| (*p - middle).dot(up))
            .fold(0.0, f64::max);
        // Beyond the cut line, whatever the allowance.
        let text = format!("{:+.0} mm", fit.bent_mm);
        let place = middle + up * (tip + draft.allowance_mm + reach(&text, up) + 1.2);
        write_figures(ink, place, &[text]);
    }
}

fn legend_height(words: &ForecastWords<'_>) -> f64 {
    SAMPLE_MM.height + 4.0 + LINE_MM * words.notes.len() as f64
}

/// Samples of the four hatchings with their words, and what the figures are; its top at `top`.
fn legend(ink: &mut Ink, words: &ForecastWords<'_>, top: f64) {
    let mut x = GAP_MM;
    for (feel, word) in
        [Feel::Loose, Feel::Easy, Feel::Firm, Feel::Tight].into_iter().zip(words.feels)
    {
        let sample = Rect::from_origin_size((x, top - SAMPLE_MM.height), SAMPLE_MM);
        let frame: BezPath = sample.to_path(0.1);
        let corners = [
            sample.origin(),
            Point::new(sample.x1, sample.y0),
            Point::new(sample.x1, sample.y1),
            Point::new(sample.x0, sample.y1),
        ];
        let cloth = [corners.into_iter().chain([sample.origin()]).collect::<Vec<_>>()];
        let within = [(Vec2::new(1.0, 0.0), sample.x1), (Vec2::new(-1.0, 0.0), -sample.x0)];
        let hatched = Hatched { cloth: &cloth, within: &within, clear: Rect::ZERO };
        ink.stroke(Group::Hatch, hatch(&hatched, feel));
        ink.stroke(Group::Labels, frame);
        x = sample.x1 + 2.0;
        let base = Point::new(x, sample.center().y - CAP_MM / 2.0);
        ink.text(Group::Labels, (base, 0.0, Anchor::Start), CAP_MM, word);
        x += text_width_mm(word, CAP_MM) + GAP_MM;
    }
    let mut y = top - SAMPLE_MM.height - 4.0;
    for note in words.notes {
        y -= LINE_MM / 2.0;
        ink.text(Group::Labels, (Point::new(GAP_MM, y), 0.0, Anchor::Start), CAP_MM, note);
        y -= LINE_MM / 2.0;
    }
}
