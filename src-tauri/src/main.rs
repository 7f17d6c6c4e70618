//! The desktop program: everything is in the library, which phones load as well.
#![cfg_attr(not(debug_assertions), windows_subsystem = "windows")]

fn main() {
    evenwire_shell::run();
}
