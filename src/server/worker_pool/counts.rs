//! Metrics of the worker pool, for Prometheus.

use std::fmt::Error;

use prometheus_client::{
    collector::Collector,
    encoding::{DescriptorEncoder, EncodeMetric},
    metrics::gauge::ConstGauge,
};

use crate::server::worker_pool::WorkerPool;

impl Collector for WorkerPool {
    fn encode(&self, mut encoder: DescriptorEncoder<'_>) -> Result<(), Error> {
        let [running, waiting] = self.counts();
        for (name, help, count) in [
            ("heavy_running", "Heavy calculations that have their turn", running),
            ("heavy_waiting", "Heavy calculations that wait for their first or next turn", waiting),
        ] {
            let gauge = ConstGauge::new(i64::try_from(count).unwrap_or(i64::MAX));
            gauge.encode(encoder.encode_descriptor(name, help, None, gauge.metric_type())?)?;
        }
        Ok(())
    }
}
