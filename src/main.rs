fn main() -> std::process::ExitCode {
    slenderjet::cli::main()
}
