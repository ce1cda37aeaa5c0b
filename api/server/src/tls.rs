//! TLS for the requests this program sends itself.

/// Settles for this process that TLS computes with `ring`, which builds with a C compiler alone. An HTTP client
/// of the process cannot be made before; calling it again does nothing.
pub fn settle() {
    // An error says that it is settled already.
    let _ = rustls::crypto::ring::default_provider().install_default();
}
