//! The `tickover` program.

fn main() -> std::process::ExitCode {
    let args = std::env::args_os();
    let code = sim_cli::run(args, &mut std::io::stdout().lock(), &mut std::io::stderr().lock());
    std::process::ExitCode::from(code as u8)
}
