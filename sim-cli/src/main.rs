//! The `tickover` program.

fn main() -> std::process::ExitCode {
    let mut input = std::io::stdin().lock();
    let mut out = std::io::BufWriter::new(std::io::stdout().lock());
    // Not locked: a worker that panics writes there too, and would wait for the lock for ever.
    let mut err = std::io::stderr();
    let mut io = sim_cli::Streams::of_process(&mut input, &mut out, &mut err);
    let code = sim_cli::run_with(std::env::args_os(), &mut io);
    std::process::ExitCode::from(code as u8)
}
