from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ("builds", "0006_carriers_and_variants"),
    ]

    operations = [
        migrations.AddField(
            model_name="buildjob",
            name="set_aside_at",
            field=models.DateTimeField(blank=True, editable=False, null=True),
        ),
        migrations.AddField(
            model_name="buildjob",
            name="set_aside_why",
            field=models.CharField(blank=True, editable=False, max_length=200),
        ),
    ]
