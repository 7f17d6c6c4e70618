//! The office's page is built into the program: when it is built anew, so is this.

fn main() {
    println!("cargo::rerun-if-changed=../ui/dist");
}
