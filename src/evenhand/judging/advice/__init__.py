"""From a judgement to advice: partial pooling, the recommendation, what it depends on, which titles would do."""
