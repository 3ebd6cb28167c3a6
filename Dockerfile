# syntax=docker/dockerfile:1

# The build needs only the Rust toolchain.
FROM rust:1-slim-bookworm AS build
WORKDIR /src
COPY Cargo.toml Cargo.lock ./
COPY src src
COPY openapi openapi
COPY benches benches
COPY tests tests
RUN cargo build --locked --release --bin stopwright

# The image holds the binary and the C library that it links.
FROM debian:bookworm-slim
COPY --from=build /src/target/release/stopwright /usr/local/bin/stopwright
USER 65534:65534
ENV STOPWRIGHT_LISTEN=0.0.0.0:8080
EXPOSE 8080
STOPSIGNAL SIGTERM
HEALTHCHECK --interval=10s --timeout=6s --start-period=2s CMD ["/usr/local/bin/stopwright", "probe"]
ENTRYPOINT ["/usr/local/bin/stopwright"]
CMD ["serve"]
