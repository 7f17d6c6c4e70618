//! Lets Tauri read its configuration and embed the icons before the shell compiles.

fn main() {
    tauri_build::build();
}
