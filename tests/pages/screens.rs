//! Pages as they are seen: on a telephone, on a screen, on A4; light and dark.

use super::browser::Browser;
use super::jobs::{all, folder, for_a_class};

/// Widths of windows in pixels.
const WIDTHS: [u32; 2] = [360, 1280];
/// The width of A4 between margins of 16 mm, in pixels of 1/96 inch (CSS Values 4, 6.2).
const A4: u32 = ((210.0 - 32.0) / 25.4 * 96.0) as u32;

/// What is wider than the page, or than the box that scrolls around it.
const TOO_WIDE: &str = "(() => {
    const wide = document.documentElement.scrollWidth;
    const scrolled = one => one.parentElement && (getComputedStyle(one.parentElement).overflowX !== 'visible'
        || scrolled(one.parentElement));
    const far = [...document.body.querySelectorAll('*')]
        .filter(one => one.getBoundingClientRect().right > innerWidth + 0.5 && !scrolled(one));
    return (wide > innerWidth ? ['the page: ' + wide] : [])
        .concat(far.map(one => one.tagName + ' ' + one.textContent.slice(0, 40)));
})()";

/// Texts with less contrast against their ground than WCAG 2.2 asks for (1.4.3): 4.5, as no text of
/// a page counts on being large.
const TOO_PALE: &str = "(() => {
    const channels = text => text.match(/[\\d.]+/g).map(Number);
    const luminance = text => {
        const [r, g, b] = channels(text).map(v => v / 255)
            .map(v => v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4);
        return 0.2126 * r + 0.7152 * g + 0.0722 * b;
    };
    const ground = one => {
        for (; one; one = one.parentElement) {
            const colour = getComputedStyle(one).backgroundColor;
            if ((channels(colour)[3] ?? 1) > 0) return colour;
        }
        return 'rgb(255, 255, 255)';
    };
    const found = [];
    const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
    while (walk.nextNode()) {
        const one = walk.currentNode.parentElement;
        if (!walk.currentNode.textContent.trim() || /^(title|desc|style)$/i.test(one.tagName)) continue;
        const style = getComputedStyle(one);
        const colour = one instanceof SVGElement ? style.fill : style.color;
        const [a, b] = [luminance(colour), luminance(ground(one))].sort((a, b) => b - a);
        if ((a + 0.05) / (b + 0.05) < 4.5)
            found.push(one.tagName + ' ' + colour + ' on ' + ground(one) + ' ' + one.textContent.slice(0, 40));
    }
    return found;
})()";

/// The sizes of the sheets of a printed page, in points.
fn sheets(pdf: &[u8]) -> Vec<(f64, f64)> {
    let text = String::from_utf8_lossy(pdf);
    let boxes = text.split("/MediaBox").skip(1);
    boxes
        .map(|rest| {
            let inside = rest.trim_start().trim_start_matches('[');
            let numbers: Vec<f64> = inside
                .split_whitespace()
                .take(4)
                .map(|number| number.trim_end_matches([']', '/']).parse().expect("a number"))
                .collect();
            (numbers[2], numbers[3])
        })
        .collect()
}

#[test]
#[ignore = "opens a browser: needs chromium on the path"]
fn every_page_fits_and_can_be_read() {
    let pages = folder("written-pages");
    let pictures = folder("pictures");
    let mut browser = Browser::start("pages");
    let mut wrong = Vec::new();
    for job in all().into_iter().chain(for_a_class()) {
        let file = pages.join(format!("{}.html", job.name));
        std::fs::write(&file, &job.html).expect("a page");
        browser.open(&file);
        let mut look = |browser: &mut Browser, width: u32, medium: &str, is_dark: bool| {
            browser.window(width, medium, is_dark);
            for (check, what) in [(TOO_WIDE, "too wide"), (TOO_PALE, "too pale")] {
                let found = browser.value(check);
                if found.as_array().is_none_or(|found| !found.is_empty()) {
                    wrong.push(format!("{} {width} {medium} {is_dark} {what}: {found}", job.name));
                }
            }
        };
        for width in WIDTHS {
            look(&mut browser, width, "screen", true);
            look(&mut browser, width, "screen", false);
            let picture = pictures.join(format!("{}-{width}.png", job.name));
            std::fs::write(picture, browser.picture()).expect("a picture");
        }
        look(&mut browser, A4, "print", true);
        let pdf = browser.print();
        let sheets = sheets(&pdf);
        // A4 is 595.3 by 841.9 points (ISO 216: 210 mm by 297 mm).
        let is_a4 = |(width, height): &(f64, f64)| {
            (width - 210.0 / 25.4 * 72.0).abs() < 1.0 && (height - 297.0 / 25.4 * 72.0).abs() < 1.0
        };
        if sheets.is_empty() || !sheets.iter().all(is_a4) {
            wrong.push(format!("{} prints on {sheets:?}", job.name));
        }
        std::fs::write(pictures.join(format!("{}.pdf", job.name)), pdf).expect("a print");
        wrong.extend(browser.console().iter().map(|said| format!("{}: {said}", job.name)));
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

/// The checks themselves see what is wrong.
#[test]
#[ignore = "opens a browser: needs chromium on the path"]
fn what_does_not_fit_or_is_pale_is_seen() {
    let file = folder("wide").join("wide.html");
    let page = "<!DOCTYPE html><title>wide</title><p style='width:500px'>wide</p>\
                <p style='color:#999'>pale</p><script>console.error('said')</script>";
    std::fs::write(&file, page).expect("a page");
    let mut browser = Browser::start("checks");
    browser.open(&file);
    browser.window(360, "screen", false);
    assert!(browser.value(TOO_WIDE).to_string().contains("the page"));
    assert!(browser.value(TOO_PALE).to_string().contains("pale"));
    assert!(browser.console().iter().any(|said| said.contains("said")));
    browser.window(1280, "screen", false);
    assert_eq!(browser.value(TOO_WIDE).to_string(), "[]");
}
