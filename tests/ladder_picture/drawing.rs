//! A ladder read back from its SVG: what is drawn, by its geometry alone.

use std::collections::BTreeMap;

use roxmltree::{Document, Node};

/// Advance widths of DejaVu Sans and DejaVu Sans Bold from blank to `~`, in thousandths of the size:
/// the table `hmtx` of the fonts (DejaVu fonts 2.37), as a browser measures them. Of the common sans
/// fonts these are the widest.
#[rustfmt::skip]
const PLAIN: [u16; 95] = [
    318,401,460,838,636,950,780,275,390,390,500,838,318,361,318,337,636,636,636,636,636,636,636,636,
    636,636,337,337,838,838,838,531,1000,684,686,698,770,632,575,775,752,295,295,656,557,863,748,787,
    603,787,695,635,611,732,684,989,685,611,685,390,337,390,838,500,500,613,635,550,635,615,352,635,
    634,278,278,579,278,974,634,612,635,635,411,521,392,634,592,818,592,592,525,636,337,636,838,
];
#[rustfmt::skip]
const BOLD: [u16; 95] = [
    348,456,521,838,696,1002,872,306,457,457,523,838,380,415,380,365,696,696,696,696,696,696,696,696,
    696,696,400,400,838,838,838,580,1000,774,762,734,830,683,683,821,837,372,372,775,637,995,837,850,
    733,850,770,720,682,812,774,1103,771,724,725,457,365,457,838,500,500,675,716,593,716,678,435,716,
    712,343,343,665,343,1042,712,687,716,716,493,595,478,712,652,924,645,652,582,712,365,712,838,
];

/// The width of a text in those fonts; a letter outside the table is an em wide.
fn width(text: &str, size: f64, is_bold: bool) -> f64 {
    let table = if is_bold { &BOLD } else { &PLAIN };
    let one = |letter: char| match letter {
        ' '..='~' => f64::from(table[letter as usize - 32]) / 1000.0,
        '\u{a0}' => f64::from(table[0]) / 1000.0,
        '°' => 0.5,
        _ => 1.0,
    };
    text.chars().map(one).sum::<f64>() * size
}

/// A rectangle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rect {
    pub left: f64,
    pub top: f64,
    pub right: f64,
    pub bottom: f64,
}

impl Rect {
    pub fn around(points: &[(f64, f64)]) -> Rect {
        let start = Rect {
            left: f64::INFINITY,
            top: f64::INFINITY,
            right: f64::NEG_INFINITY,
            bottom: f64::NEG_INFINITY,
        };
        points.iter().fold(start, |rect, &(x, y)| Rect {
            left: rect.left.min(x),
            top: rect.top.min(y),
            right: rect.right.max(x),
            bottom: rect.bottom.max(y),
        })
    }

    pub fn grown(self, by: f64) -> Rect {
        Rect {
            left: self.left - by,
            top: self.top - by,
            right: self.right + by,
            bottom: self.bottom + by,
        }
    }

    /// Whether two rectangles share more than an edge.
    pub fn meets(&self, other: &Rect) -> bool {
        self.left < other.right
            && other.left < self.right
            && self.top < other.bottom
            && other.top < self.bottom
    }

    pub fn holds(&self, other: &Rect) -> bool {
        self.left <= other.left
            && other.right <= self.right
            && self.top <= other.top
            && other.bottom <= self.bottom
    }
}

/// A straight piece, or the box of an arc.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Piece {
    pub from: (f64, f64),
    pub to: (f64, f64),
    pub is_arc: bool,
}

impl Piece {
    pub fn rect(&self) -> Rect {
        let rect = Rect::around(&[self.from, self.to]);
        if self.is_arc { Rect { right: rect.right + 5.0, ..rect } } else { rect }
    }
}

/// A text with its place.
#[derive(Debug, Clone)]
pub struct Text {
    pub words: String,
    pub rect: Rect,
    /// The part or net that it belongs to; empty for titles and notes.
    pub owner: String,
}

/// A symbol: where its leads are, by the places that they have when it stands upright.
#[derive(Debug, Clone)]
pub struct Symbol {
    pub rect: Rect,
    pub top: (f64, f64),
    pub bottom: (f64, f64),
    /// The lead at its side, where it has one.
    pub side: (f64, f64),
}

/// A part, or the path of a fault.
#[derive(Debug, Clone, Default)]
pub struct Part {
    pub name: String,
    pub is_path: bool,
    /// Joints and pins at the edges of boxes: the pins, counted from 1, and the place.
    pub joints: Vec<(Vec<usize>, (f64, f64))>,
    /// Symbols of ground: the pins, and the upper end.
    pub grounds: Vec<(Vec<usize>, (f64, f64))>,
    pub ground_rects: Vec<Rect>,
    pub wires: Vec<Vec<Piece>>,
    pub symbols: Vec<Symbol>,
    pub chip: Option<Rect>,
    /// Marks of faults: breaks, paths around a symbol.
    pub marks: Vec<Rect>,
}

/// A net's line in one panel.
#[derive(Debug, Clone, Default)]
pub struct Net {
    pub name: String,
    /// The height of its line; `None` for ground that is drawn as a symbol.
    pub y: Option<f64>,
    pub stretches: Vec<(f64, f64)>,
    pub also: String,
    pub texts: Vec<String>,
}

/// A panel.
#[derive(Debug, Clone, Default)]
pub struct Panel {
    pub nets: Vec<Net>,
    pub parts: Vec<Part>,
    /// Stretches of lines through boxes of their own net, and behind foreign boxes.
    pub through: Vec<(f64, f64, f64)>,
    pub behind: Vec<(f64, f64, f64)>,
}

/// A whole picture.
#[derive(Debug, Clone, Default)]
pub struct Drawing {
    pub size: (f64, f64),
    pub panels: Vec<Panel>,
    pub texts: Vec<Text>,
    /// Marks beside values.
    pub marks: Vec<Rect>,
    pub title: String,
    pub words: String,
    pub style: String,
}

fn attribute(node: Node<'_, '_>, name: &str) -> f64 {
    let text = node.attribute(name).unwrap_or_else(|| panic!("{name} of {node:?}"));
    text.parse().unwrap_or_else(|_| panic!("{name}={text}"))
}

/// The pieces of a path of absolute moves, lines and arcs.
pub fn pieces(data: &str) -> Vec<Piece> {
    let mut words = data.split_whitespace();
    let (mut at, mut start) = ((0.0, 0.0), (0.0, 0.0));
    let mut found = Vec::new();
    while let Some(word) = words.next() {
        let mut number = || words.next().unwrap().parse::<f64>().unwrap();
        match word {
            "M" => {
                at = (number(), number());
                start = at;
            }
            "L" => {
                let to = (number(), number());
                found.push(Piece { from: at, to, is_arc: false });
                at = to;
            }
            "A" => {
                (0..5).for_each(|_| assert!(number().is_finite()));
                let to = (number(), number());
                found.push(Piece { from: at, to, is_arc: true });
                at = to;
            }
            "Z" => {
                found.push(Piece { from: at, to: start, is_arc: false });
                at = start;
            }
            other => panic!("`{other}` in `{data}`"),
        }
    }
    found
}

fn pins(node: Node<'_, '_>) -> Vec<usize> {
    let text = node.attribute("data-pins").unwrap_or("");
    text.split_whitespace().map(|pin| pin.parse().unwrap()).collect()
}

fn symbol(node: Node<'_, '_>) -> Symbol {
    let transform = node.attribute("transform").expect("a place");
    let place = transform.strip_prefix("translate(").unwrap().split(')').next().unwrap();
    let (x, y) = place.split_once(' ').unwrap();
    let (x, y): (f64, f64) = (x.parse().unwrap(), y.parse().unwrap());
    let (flip, turn) = (transform.contains("scale(1 -1)"), transform.contains("scale(-1 1)"));
    let both = transform.contains("scale(-1 -1)");
    let sign = (if turn || both { -1.0 } else { 1.0 }, if flip || both { -1.0 } else { 1.0 });
    let mut points = Vec::new();
    for child in node.children().filter(Node::is_element) {
        match child.tag_name().name() {
            "circle" => {
                let r = attribute(child, "r");
                points.extend([(-r, -r), (r, r)]);
            }
            "path" => {
                let pieces = pieces(child.attribute("d").unwrap());
                points.extend(pieces.iter().flat_map(|piece| [piece.from, piece.to]));
            }
            other => panic!("{other} in a symbol"),
        }
    }
    let placed = |(dx, dy): (f64, f64)| (x + sign.0 * dx, y + sign.1 * dy);
    let side = points.iter().copied().min_by(|a, b| a.0.total_cmp(&b.0)).unwrap();
    let rect = Rect::around(&points.iter().map(|point| placed(*point)).collect::<Vec<_>>());
    Symbol { rect, top: placed((0.0, -14.0)), bottom: placed((0.0, 14.0)), side: placed(side) }
}

fn text(node: Node<'_, '_>, owner: &str) -> Text {
    let class = node.attribute("class").unwrap_or("").to_owned();
    let size = attribute(node, "font-size");
    let words: String =
        node.children().filter(Node::is_text).filter_map(|one| one.text()).collect();
    let bold = ["ladder-name", "ladder-title", "ladder-fault-words", "ladder-agrees", "ladder-off"];
    let is_bold = class.split(' ').any(|one| bold.contains(&one));
    let long = width(&words, size, is_bold);
    let (x, y) = (attribute(node, "x"), attribute(node, "y"));
    let left = match node.attribute("text-anchor") {
        Some("middle") => x - long / 2.0,
        Some("end") => x - long,
        _ => x,
    };
    // Capitals and figures of these fonts reach up 0.73 em, brackets and `g` down 0.24 em.
    let rect = Rect { left, right: left + long, top: y - 0.76 * size, bottom: y + 0.22 * size };
    Text { words, rect, owner: owner.to_owned() }
}

/// Reads a picture back.
pub fn read(svg: &str) -> Drawing {
    let document = Document::parse(svg).unwrap_or_else(|error| panic!("{error}\n{svg}"));
    let root = document.root_element();
    let mut drawing = Drawing {
        size: (attribute(root, "width"), attribute(root, "height")),
        ..Drawing::default()
    };
    let child = |name: &str| {
        root.children().find(|node| node.has_tag_name((root.tag_name().namespace().unwrap(), name)))
    };
    drawing.title = child("title").and_then(|node| node.text()).unwrap_or("").to_owned();
    drawing.words = child("desc").and_then(|node| node.text()).unwrap_or("").to_owned();
    drawing.style = child("style").and_then(|node| node.text()).unwrap_or("").to_owned();
    for node in root.children().filter(Node::is_element) {
        match node.tag_name().name() {
            "text" => drawing.texts.push(text(node, "")),
            "g" => {
                let panel = panel(node, &mut drawing);
                drawing.panels.push(panel);
            }
            "title" | "desc" | "style" | "path" => {}
            other => panic!("{other} in the picture"),
        }
    }
    drawing
}

fn panel(node: Node<'_, '_>, drawing: &mut Drawing) -> Panel {
    let mut panel = Panel::default();
    for group in node.children().filter(Node::is_element) {
        let class = group.attribute("class").unwrap_or("");
        match class.split(' ').next() {
            Some("ladder-net") => panel.nets.push(net(group, drawing)),
            Some("ladder-part" | "ladder-path") => panel.parts.push(part(group, drawing)),
            Some("ladder-through") => {
                for path in group.children().filter(Node::is_element) {
                    let is_behind = path.attribute("class") == Some("ladder-behind");
                    for piece in pieces(path.attribute("d").unwrap()) {
                        let stretch = (piece.from.0, piece.to.0, piece.from.1);
                        let list = if is_behind { &mut panel.behind } else { &mut panel.through };
                        list.push(stretch);
                    }
                }
            }
            other => panic!("{other:?} in a panel"),
        }
    }
    panel
}

fn net(group: Node<'_, '_>, drawing: &mut Drawing) -> Net {
    let name = group.attribute("data-net").unwrap().to_owned();
    let mut net = Net { name: name.clone(), ..Net::default() };
    for node in group.descendants().filter(Node::is_element) {
        let class = node.attribute("class").unwrap_or("");
        match (node.tag_name().name(), class.split(' ').next().unwrap_or("")) {
            ("text", first) => {
                let text = text(node, &name);
                if first == "ladder-note" {
                    net.also = text.words.clone();
                }
                net.texts.push(text.words.clone());
                drawing.texts.push(text);
            }
            ("path", "ladder-line") => {
                for piece in pieces(node.attribute("d").unwrap()) {
                    assert_eq!(piece.from.1, piece.to.1, "lines are level");
                    net.y = Some(piece.from.1);
                    net.stretches.push((piece.from.0, piece.to.0));
                }
            }
            ("path", "ladder-mark-off" | "ladder-mark-agrees") => {
                let pieces = pieces(node.attribute("d").unwrap());
                let points: Vec<_> = pieces.iter().flat_map(|one| [one.from, one.to]).collect();
                drawing.marks.push(Rect::around(&points));
            }
            ("path", "ladder-guide" | "ladder-wire") | ("g" | "a" | "title", _) => {}
            other => panic!("{other:?} in a net"),
        }
    }
    net
}

fn part(group: Node<'_, '_>, drawing: &mut Drawing) -> Part {
    let is_path = group.attribute("data-part").is_none();
    let name = group.attribute("data-part").or(group.attribute("data-fault")).unwrap().to_owned();
    let mut part = Part { name: name.clone(), is_path, ..Part::default() };
    for node in group.children().filter(Node::is_element) {
        let class = node.attribute("class").unwrap_or("").to_owned();
        match (node.tag_name().name(), class.as_str()) {
            ("title", _) => {}
            ("text", _) => drawing.texts.push(text(node, &name)),
            ("circle", _) => {
                part.joints.push((pins(node), (attribute(node, "cx"), attribute(node, "cy"))));
            }
            ("rect", "ladder-box") => {
                let (x, y) = (attribute(node, "x"), attribute(node, "y"));
                part.chip = Some(Rect {
                    left: x,
                    top: y,
                    right: x + attribute(node, "width"),
                    bottom: y + attribute(node, "height"),
                });
            }
            ("rect", "ladder-paper") | ("path", "ladder-linked") => {}
            ("g", "ladder-symbol") => part.symbols.push(symbol(node)),
            ("path", "ladder-wire ladder-ground") => {
                let pieces = pieces(node.attribute("d").unwrap());
                part.grounds.push((pins(node), pieces[0].from));
                let points: Vec<_> = pieces.iter().flat_map(|one| [one.from, one.to]).collect();
                part.ground_rects.push(Rect::around(&points));
            }
            ("path", "ladder-wire") => part.wires.push(pieces(node.attribute("d").unwrap())),
            ("path", "ladder-broken") => {
                let pieces = pieces(node.attribute("d").unwrap());
                let points: Vec<_> = pieces.iter().flat_map(|one| [one.from, one.to]).collect();
                part.marks.push(Rect::around(&points));
            }
            other => panic!("{other:?} in a part"),
        }
    }
    part
}

/// The net that every pin of every part is on, by the geometry alone: a joint counts when it lies
/// on a line, a wire when its ends meet.
pub fn netlist(drawing: &Drawing, ground: &str) -> BTreeMap<(String, usize), String> {
    let mut found = BTreeMap::new();
    for panel in &drawing.panels {
        for part in panel.parts.iter().filter(|part| !part.is_path) {
            for (pins, place) in &part.joints {
                let net = net_at(panel, *place)
                    .unwrap_or_else(|| panic!("{}: no line at {place:?}", part.name));
                for pin in pins {
                    let before = found.insert((part.name.clone(), *pin), net.clone());
                    assert!(
                        before.is_none_or(|before| before == net),
                        "{} pin {pin} is on two nets",
                        part.name
                    );
                }
            }
            for (pins, _) in &part.grounds {
                for pin in pins {
                    found.insert((part.name.clone(), *pin), ground.to_owned());
                }
            }
        }
    }
    found
}

/// The net whose line, or whose stretch through a box, holds a place.
pub fn net_at(panel: &Panel, (x, y): (f64, f64)) -> Option<String> {
    let near = |a: f64, b: f64| (a - b).abs() < 0.02;
    let on = |(from, to): (f64, f64)| from - 0.02 <= x && x <= to + 0.02;
    let mut nets = panel.nets.iter().filter(|net| net.y.is_some_and(|own| near(own, y)));
    let net = nets.next()?;
    assert!(nets.next().is_none(), "two lines at one height");
    let through = panel.through.iter().filter(|(_, _, own)| near(*own, y));
    let is_on = net.stretches.iter().any(|stretch| on(*stretch))
        || through.clone().any(|(from, to, _)| on((*from, *to)));
    is_on.then(|| net.name.clone())
}
