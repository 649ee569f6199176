//! The one place that knows both records and models: state in, assessments out.
