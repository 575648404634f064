//! Proposals made from small evidence: cases as data.
