//! A scenario that is added to the folder is embedded without a change of the code.

fn main() {
    println!("cargo:rerun-if-changed=../config/scenarios");
}
