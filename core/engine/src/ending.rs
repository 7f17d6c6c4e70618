//! How a process is told to end, so that what was gathered last is written before it does.

/// Listens from now on; done when somebody interrupts the process (Ctrl-C) or, on Unix, asks it to terminate.
/// Needs a runtime around it.
///
/// # Errors
/// The system does not tell of signals.
#[cfg(unix)]
pub fn told_to_end() -> std::io::Result<impl Future<Output = ()> + Send + 'static> {
    use tokio::signal::unix::{SignalKind, signal};
    let mut interrupt = signal(SignalKind::interrupt())?;
    let mut terminate = signal(SignalKind::terminate())?;
    Ok(async move {
        tokio::select! {
            _ = interrupt.recv() => {}
            _ = terminate.recv() => {}
        }
    })
}

/// Listens as soon as it is waited for; done when somebody interrupts the process (Ctrl-C).
///
/// # Errors
/// None here.
#[cfg(not(unix))]
pub fn told_to_end() -> std::io::Result<impl Future<Output = ()> + Send + 'static> {
    Ok(async { drop(tokio::signal::ctrl_c().await) })
}
