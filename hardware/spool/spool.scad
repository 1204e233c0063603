// The printed parts of the spool, in millimetres, each as it is printed: the plane z = 0 is the bed.
// All sizes are passed by render.py, which derives them from the spool file; see sizes.py.
//
//   openscad -D 'part="carrier"' -D bore=63 ... -o carrier.stl spool.scad

part = "carrier";
cut = false;           // pictures: a part of the body taken away, so that the inside is visible
$fn = 120;
tiny = 0.01;

include <carrier.scad>
include <rotor.scad>
include <plates.scad>
include <pipe_ends.scad>

// Extrudes a drawing of the x-z plane along y, centred.
module upright(thick) { rotate([90, 0, 0]) linear_extrude(thick, center = true) children(); }

assert(!is_undef(bore) && !is_undef(pipe_outer), "sizes are missing: run python hardware/spool/render.py");
assert(pipe_outer > bore, "the outer diameter of the pipe must be greater than its bore");

module chosen() {
    if (part == "carrier") carrier();
    else if (part == "rotor") rotor();
    else if (part == "nose") nose();
    else if (part == "saddle") saddle();
    else if (part == "straightener") straightener();
    else if (part == "adapter") adapter();
    else if (part == "plate_holder") plate_holder();
    else if (part == "plate_ring") plate_ring();
    else if (part == "plate") plate();
    else if (part == "gasket") gasket();
    else assert(false, str("no such part: ", part));
}

if (cut) difference() { chosen(); translate([0, 0, -1]) rotate([0, 0, 120]) cube(300); }
else chosen();
