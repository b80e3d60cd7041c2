package mapping

// StarterYAML is what init writes into config/mappings: comments that show every key, and no rule.
const StarterYAML = `# Mappings: what the headers of your own recorders mean, where the names alone do not tell.
# Every *.yaml file in this folder is read. "dynolake inspect FILE" shows each channel, the column proposed for it and why.
# Keys of an entry:
#   header:    the header's text, compared without case and punctuation      (this or pattern)
#   pattern:   a regular expression that must match the whole header         (this or header)
#   column:    the column it becomes, as "dynolake channels" lists them      (this or ignore)
#   ignore:    true keeps the channel out of every column
#   unit:      the unit of the numbers, after factor and offset; by default the unit in the log, else the column's own
#   reference: absolute or gauge, for pressures
#   factor, offset: logged * factor + offset is the value in that unit
#   zero:      key-on takes off what a pressure reads with the engine stopped; a figure such as -1.2 kPa takes that off
#   states:    a state's texts and their values
#   vehicle:   only for this vehicle        source: only in files of this name (* and ? allowed)
# An entry here wins over every guess. Changing one derives the runs that it speaks of again.
#
# mappings:
#   - header: "Aux 3"                # a 0-5 V pressure sensor before the turbine
#     column: turbine_in_kpa
#     unit: bar
#     reference: gauge
#     factor: 1.25
#     offset: -0.625
#   - pattern: "EGT ?[12]"
#     column: turbine_in_c
#     unit: "°C"
#   - header: "TCC"
#     column: converter_locked_frac
#     states: {"Locked": 1, "Open": 0, "Slip": 0.5}
#   - header: "Cyl 3 trim"
#     ignore: true
mappings: []
`
