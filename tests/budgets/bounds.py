"""Every list of every answer, and what bounds it: no answer may carry one that grows with the account."""

# What one request brings: its body has a limit on it, and so has what is kept of it.
REQUEST = {
    "AskedField": "choices",
    "Approved": "systems schedules designs",
    "BlendView": "of",
    "BuildCheck": "lines parts pots materials conditions to_order saves not_checked",
    "BuildEarliest": "deliveries parts",
    "BuildLine": "sentences",
    "BuildMaterial": "draws",
    "CatalystView": "doses life",
    "CorrectionMade": "movements",
    "CureView": "parts",
    "CureRow": "parts",
    "ClothCutting": "placements",
    "LineView": "references",
    "OrderRow": "references",
    "OrderView": "references lines",
    "CuttingView": "cloths sentences",
    "CutView": "plies",
    "DesignAccount": "resin_need plies sentences",
    "DesignPly": "outline holes",
    "DesignView": "resin_need plies zones sentences",
    "EntryView": "movements",
    "HardenerView": "cup_life tray_life film_life",
    "InspectionView": "measurements",
    "JobPlan": "sentences",
    "KitAccount": "cuts plies",
    "KitView": "cuts plies",
    "LaminateAsked": "uptakes",
    "LaminateView": "plies stacks needs sentences",
    "LoggerView": "profile open_fields",
    "MaterialView": "bears h_codes incoming_checks cautions",
    "MixPlan": "pots lots sentences",
    "NeedCompared": "purposes",
    "OutTime": "out tack",
    "OrderCost": "lines materials waste sentences",
    "PermissionView": "reasons",
    "Permit": "reasons",
    "PotInPlan": "draws",
    "PotView": "draws",
    "RatioChart": "points sentences",
    "ReservationView": "amounts",
    "Drift": "outside",
    "Limits": "stand_out jumps",
    "Registered": "suppliers places materials scales moulds",
    "ScheduleView": "stages pressures",
    "StepView": "facts",
    "SystemView": "hardeners constants sentences",
}
# One file that was sent in, of which the service takes so many megabytes.
FILE = {
    "CureLogView": "part_probes air_probes stands_for left_out other_probes gauges notes",
    "CureReadings": "series gauges",
    "CureStage": "gaps reasons sentences",
    "KeptStage": "sections gaps over suspects reasons sentences",
    "KeptPressure": "sentences",
    "KeptVerdict": "sentences judged_on stages kinetics pressures",
    "Preview": "profile found open_questions written rows probes notes",
    "GaugeSeries": "times_s pressures_mbar",
    "Imported": "fates",
    "ProbeSeries": "times_s temperatures_c",
    "ReadRow": "values",
    "WrittenRow": "values",
}
# Words, kinds and reasons of a closed set; or a handful that the function itself ends.
FEW = {
    "Answer": "reasons notes",
    "Availability": "stock",
    "ExportedTable": "columns",
    "CalculationView": "arguments example",
    "ContainerView": "instead cautions",
    "EveningRound": "pots cans",
    "Finding": "numbers",
    "Hazards": "pictograms statements",
    "Investigation": "caution",
    "KeyView": "scopes",
    "Mark": "facts",
    "MeView": "roles scopes",
    "MixCorrection": "why_not",
    "MonthCost": "materials waste sentences",
    "MorningRound": "cups",
    "MouldView": "not_ready",
    "PartRecord": "caution signatures",
    "PeroxideView": "cautions",
    "PersonView": "roles",
    "SiteView": "alone_in weekdays closed_on",
    "PotAccount": "cautions",
    "Reached": "counts",
    "Reason": "may_permit",
    "ScalesView": "scales",
    "Tool": "roles",
    "WebhookView": "events",
    "Trace": "counts went_away",
    "Worker": "did",
}
# What hands do on one thing, one act at a time, until it is finished; and what one such thing is made of.
ONE_THING = {
    "ActEntry": "items",
    "AsDesigned": "needs sentences found",
    "Component": "plies missing_plies closings inspections",
    "CorrectedEntry": "items before after",
    "CupToCheck": "parts",
    "CupView": "parts",
    "CureAccount": "sentences stages pressures logs statements model",
    "CureView": "logs statements",
    "Exposed": "suspects",
    "Finding": "items",
    "Investigation": "standing_out shared only_here pots_closed",
    "ItemView": "made_with states labels",
    "LateEntry": "items",
    "LotView": "receipts certificates checks",
    "MaterialUsed": "used_in filled_from certificates",
    "MixView": "plan pours fillers applications parts skipped notices cup_checks",
    "NonconformanceView": "defects",
    "PartCost": "materials waste components sentences",
    "PartAccount": "laid missing_plies kits components pots materials cures steps inspections defects nonconformances"
    " marks permits late corrected people tools labels acts signed scale_checks files loggers"
    " lifted_holds",
    "PartRecord": "standing_out materials pots kits laid missing_plies components cures steps inspections defects"
    " nonconformances permits late corrected people tools acts scale_checks files loggers lifted_holds",
    "PartView": "mixes kits materials components plies missing_plies cures steps inspections defects nonconformances",
    "PotAccount": "weighings additions stirrings applied cup_checks skipped",
    "ReleaseCheck": "open review",
    "Sharing": "shared",
}
# What stands, lies or waits at one time: an act ends each of them, and its history is not in the answer.
AT_ONE_TIME = {
    "ContainerView": "holds",
    "CureView": "holds",
    "HeadView": "documents",  # since the head before, which is signed once a day
    "ItemView": "holds",
    "KitView": "holds",
    "LotView": "holds",
    "MixView": "holds",
    "MouldView": "in_it holds",
    "PartAccount": "on_hold",
    "PartView": "holds",
    "PermissionView": "flags",
    "Reserving": "instead_of",
    "ScaleView": "honest_pots holds",  # one of each system that is approved and not replaced
    "StorageReadingView": "alarms",
}
# The newest so many parts are compared, and each says so (`compared_newest_only`).
COMPARED = {
    "AgeSplit": "points",
    "Investigation": "sisters",
    "Suspect": "cannot_separate parts failed_parts",
    "Suspects": "ranked people splits numbers",
}
# A number of rows that the answer names, beside how many there are; what lists the rest is named in the description.
NEWEST = {
    "CorrectionMade": "flagged",
    "CupsLeft": "cups",
    "CureView": "flags",
    "EntryView": "items body",
    "ItemView": "flags",
    "LookBack": "held",
    "LotView": "containers",
    "MixView": "flags",
    "MouldView": "treatments",
    "PartView": "flags",
    "RecallView": "pieces customers papers",
    "ScaleView": "affected",
    "StockView": "cans",
    "StorageReviewView": "containers made",
}
# The same, in answers whose own docstring says it: the rest is in the trace.
TRACED = {
    "Shared": "others",
    "SharedBy": "others",
    "Trace": "items movements",
}

# One for each place where a piece can be, fifty that are spared, a hundred that were reached or taken back since.
RECALLED = {
    "RecallView": "totals spared reached_since taken_back",
}

BOUNDS = (RECALLED, REQUEST, FILE, FEW, ONE_THING, AT_ONE_TIME, COMPARED, NEWEST, TRACED)
