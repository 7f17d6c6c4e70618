//! The smallest window this framework opens, with a page served the same way as ours: what
//! `make bench` holds our own start against.

use tauri::webview::PageLoadEvent;

fn main() -> tauri::Result<()> {
    tauri::Builder::default()
        .on_page_load(|_, load| {
            if load.event() == PageLoadEvent::Finished {
                eprintln!("page shown");
            }
        })
        .run(tauri::generate_context!("examples/bare_window/tauri.conf.json"))
}
