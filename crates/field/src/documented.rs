//! Tables of docs/pole.md that tests compute.

use std::{fs, path::Path, sync::Mutex};

/// One test at a time writes the page.
static PAGE: Mutex<()> = Mutex::new(());

/// Holds the table between the comments `<!-- name -->` and `<!-- /name -->` of docs/pole.md against
/// what a test computed; with `DIPWARD_WRITE_DOCS` set it is written there instead.
pub(crate) fn table(name: &str, computed: &str) {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs/pole.md");
    let _writing = PAGE.lock().unwrap();
    let page = fs::read_to_string(&path).unwrap();
    let (opening, closing) = (format!("<!-- {name} -->\n"), format!("<!-- /{name} -->"));
    let from = page.find(&opening).unwrap() + opening.len();
    let to = from + page[from..].find(&closing).unwrap();
    if std::env::var_os("DIPWARD_WRITE_DOCS").is_some() {
        fs::write(&path, format!("{}{computed}{}", &page[..from], &page[to..])).unwrap();
    } else {
        assert_eq!(
            &page[from..to],
            computed,
            "docs/pole.md is stale: run this test with DIPWARD_WRITE_DOCS=1 and look at what changed"
        );
    }
}
