# syntax=docker/dockerfile:1

# The build needs only the Rust toolchain and its C library. Naming the target, though it is the build's own machine,
# keeps the flag from what runs during the build: macros are loaded as libraries, and those cannot be static.
FROM rust:1-slim-bookworm AS build
WORKDIR /src
COPY Cargo.toml Cargo.lock ./
COPY src src
COPY openapi openapi
COPY docs/pictures docs/pictures
COPY benches benches
COPY tests tests
ENV RUSTFLAGS="-C target-feature=+crt-static"
RUN target=$(rustc -vV | sed -n 's/^host: //p') \
 && cargo build --locked --release --bin stopwright --target "$target" \
 && mv "target/$target/release/stopwright" /stopwright

# The image holds nothing but the binary, which has the C library in it.
FROM scratch
COPY --from=build /stopwright /usr/local/bin/stopwright
USER 65534:65534
ENV STOPWRIGHT_LISTEN=0.0.0.0:8080
EXPOSE 8080
STOPSIGNAL SIGTERM
HEALTHCHECK --interval=10s --timeout=6s --start-period=2s CMD ["/usr/local/bin/stopwright", "probe"]
ENTRYPOINT ["/usr/local/bin/stopwright"]
CMD ["serve"]
