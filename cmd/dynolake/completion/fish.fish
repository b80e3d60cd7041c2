# Completion of dynolake for fish: the program itself is asked how the last word may go on.
function __dynolake_complete
    set -l line (commandline -opc)
    set -l word (commandline -ct)
    $line "$word" --generate-bash-completion 2>/dev/null
end
complete -c dynolake -a '(__dynolake_complete)'
